#include "daemon/web/sentences.hpp"

#include <algorithm>
#include <cmath>

namespace ingle {
namespace {

constexpr double steady_k_per_min = 0.05;  // 3 K in an hour: slower than that is not worth a word

std::string state_words(std::string const& phase) {
    if (phase == "no band") return "not held to a band";
    if (phase == "in band") return "in its band";
    if (phase == "in band, settling") return "in its band, settling";
    if (phase == "coming back") return "coming back to its band";
    if (phase == "warming up" || phase == "cooling down") return phase + " to its band";
    if (phase == "not there yet") return "not yet in its band";
    if (phase == "above band" || phase == "below band") return phase.substr(0, 5) + " its band";
    if (phase == "readings doubtful") return "its readings are doubtful";
    if (phase == "door open?") return "door open, as it seems";
    return phase;
}

std::string trend_words(std::optional<double> slope_k_per_min, TemperatureUnit unit) {
    if (!slope_k_per_min) return "";
    if (std::abs(*slope_k_per_min) < steady_k_per_min) return ", steady";
    return std::string(*slope_k_per_min > 0 ? ", rising " : ", falling ") +
           show(TemperatureDifference{std::abs(*slope_k_per_min)}, unit) + "/min";
}

std::string forecast_words(VesselView const& vessel, Instant now) {
    auto const& forecast = vessel.forecast;
    bool const outside = vessel.phase == "above band" || vessel.phase == "below band";
    if (!forecast || !forecast->eta_s || (outside && forecast->what == "leaving-band")) return "";
    auto const old_s = seconds(now - forecast->at);
    auto const left = [&](double s) { return show(Duration{std::max(0.0, s - old_s)}); };
    auto const what = forecast->what == "leaving-band" ? std::string("leaves it")
                      : forecast->what == "boiling"    ? std::string("boils")
                                                       : forecast->what;
    auto text = "; " + what + " in about " + left(*forecast->eta_s);
    if (forecast->low_s && forecast->high_s)
        text += " (" + left(*forecast->low_s) + " to " + left(*forecast->high_s) + ")";
    return forecast->why.empty() ? text : text + "; " + forecast->why;
}

std::string capital(std::string text) {
    if (!text.empty() && text[0] >= 'a' && text[0] <= 'z') text[0] = static_cast<char>(text[0] - 'a' + 'A');
    return text;
}

}  // namespace

std::string vessel_sentence(VesselView const& vessel, ProbeView const* probe, TemperatureUnit unit,
                            Instant now) {
    if (!probe) return "No probe is in it: what it does is not known.";
    if (!probe->fresh || !probe->celsius || probe->fault) {
        auto const why = probe->fault ? probe->fault->reason
                         : probe->age ? "the last reading is " + show(Duration{seconds(*probe->age)}) + " old"
                                      : std::string("no reading yet");
        return "Not known: " + why + ".";
    }
    auto text = capital(state_words(vessel.phase)) + trend_words(probe->slope_k_per_min, unit) +
                forecast_words(vessel, now) + ".";
    if (!vessel.advice.empty()) text += " " + capital(vessel.advice);
    if (text.back() != '.') text += ".";
    return text;
}

}  // namespace ingle
