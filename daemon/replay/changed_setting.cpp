#include "daemon/replay/changed_setting.hpp"

#include <algorithm>

#include "config/band_words.hpp"
#include "config/height.hpp"
#include "config/limits.hpp"
#include "daemon/conditioning/calibrate.hpp"

namespace ingle {
namespace {

std::string_view trimmed(std::string_view text) {
    constexpr std::string_view fringe = " \t\"'[]";
    auto const first = text.find_first_not_of(fringe);
    if (first == std::string_view::npos) return {};
    return text.substr(first, text.find_last_not_of(fringe) - first + 1);
}

template <class Q, class Target>
std::string set(Target& target, std::string_view text, Parsed<Q> (*parse)(std::string_view)) {
    auto const parsed = parse(text);
    if (auto const* error = std::get_if<QuantityError>(&parsed)) {
        return error->wrong + "; " + error->right;
    }
    target = std::get<Q>(parsed);
    return {};
}

std::string set_band(std::optional<Band>& band, std::string_view text) {
    if (text == "none") {
        band.reset();
        return {};
    }
    std::string words(text);
    std::erase(words, '"');  // ["180 degF", "190 degF"], as in the kitchen file
    if (auto const comma = words.find(','); comma != std::string::npos) words.replace(comma, 1, " to ");
    auto const said = read_band({words});
    if (!said.wrong.empty()) return said.wrong;
    Band wanted;
    auto wrong = set(wanted.low, said.low, parse_temperature);
    if (wrong.empty()) wrong = set(wanted.high, said.high, parse_temperature);
    if (wrong.empty() && !(wanted.low < wanted.high)) wrong = "the low end must be below the high end";
    if (wrong.empty()) band = wanted;
    return wrong;
}

// "33.1 degF is 32 degF; 210.4 degF is 211.6 degF": what the bare probe reads, and what is right.
std::string set_calibration(std::vector<CalibrationPoint>& points, std::string_view text) {
    std::vector<CalibrationPoint> wanted;
    while (text != "none" && !text.empty()) {
        auto const end = std::min(text.find(';'), text.size());
        auto const one = trimmed(text.substr(0, end));
        auto const cut = one.find(" is ");
        if (cut == std::string_view::npos) return "a calibration is \"33.1 degF is 32 degF\", or none";
        CalibrationPoint point;
        auto wrong = set(point.reads, trimmed(one.substr(0, cut)), parse_temperature);
        if (wrong.empty()) wrong = set(point.is, trimmed(one.substr(cut + 4)), parse_temperature);
        if (!wrong.empty()) return wrong;
        wanted.push_back(point);
        text = trimmed(text.substr(std::min(end + 1, text.size())));
    }
    if (auto doubt = doubt_about(wanted)) return *doubt;
    points = std::move(wanted);
    return {};
}

// Another band of a vessel is meant for the whole cook, whatever a plan's stages say. A dish in another
// vessel may follow the same plan, which stays as it is for that one.
void for_all_stages(Settings& settings, int vessel) {
    for (auto& dish : settings.dishes) {
        int const number = number_of(settings.plans, dish.plan);
        if (number < 0) continue;
        auto tried = settings.plans[static_cast<std::size_t>(number)];
        for (auto& stage : tried.stages)
            if (stage.band && (stage.vessel < 0 ? dish.vessel : stage.vessel) == vessel)
                stage.band = settings.vessels[static_cast<std::size_t>(vessel)].band;
        tried.name += " for " + dish.name;
        dish.plan = tried.name;
        settings.plans.push_back(std::move(tried));
    }
}

// One setting alone; whether the bands still fit is looked at afterwards.
std::string set_one(Settings& settings, std::string_view text) {
    auto const equals = text.find('=');
    auto const dot = text.substr(0, std::min(equals, text.size())).rfind('.');
    if (equals == std::string_view::npos || dot == std::string_view::npos) {
        return "a setting is VESSEL.KEY=VALUE, such as \"stockpot.band=180 degF to 190 degF\"";
    }
    auto const name = trimmed(text.substr(0, dot)), key = trimmed(text.substr(dot + 1, equals - dot - 1));
    auto const value = trimmed(text.substr(equals + 1));
    std::string const prefix = std::string(name) + "." + std::string(key) + ": ";
    auto const told = [&](std::string const& wrong) { return wrong.empty() ? wrong : prefix + wrong; };
    if (name == "kitchen") {
        if (key == "altitude") return told(set(settings.altitude, value, parse_height));
        if (key == "pressure") return told(set(settings.pressure, value, parse_pressure));
        return prefix + "of the kitchen, altitude and pressure can be set";
    }
    auto const probe = std::ranges::find(settings.probes, name, &ProbeSettings::name);
    if (key == "calibration" && probe != settings.probes.end())
        return told(set_calibration(probe->calibration, value));
    auto const vessel = std::ranges::find(settings.vessels, name, &VesselSettings::name);
    if (vessel == settings.vessels.end()) return prefix + "there is no vessel of that name";
    if (key == "band") {
        auto wrong = told(set_band(vessel->band, value));
        if (wrong.empty()) for_all_stages(settings, static_cast<int>(vessel - settings.vessels.begin()));
        return wrong;
    }
    if (key == "deadband") return told(set(vessel->deadband, value, parse_temperature_difference));
    if (key == "on-delay") return told(set(vessel->on_delay, value, parse_duration));
    if (key == "off-delay") return told(set(vessel->off_delay, value, parse_duration));
    if (key == "look-ahead") return told(set(vessel->look_ahead, value, parse_duration));
    if (key == "reach-within") return told(set(vessel->reach_within, value, parse_duration));
    if (key == "salt") return told(set(vessel->salt, value, parse_fraction));
    return prefix +
           "of a vessel, band, deadband, on-delay, off-delay, look-ahead, reach-within and salt can be set";
}

}  // namespace

// The same limits as in the kitchen file; what breaks them changes nothing.
std::string apply_setting(Settings& settings, std::string_view text) {
    auto changed = settings;
    if (auto wrong = set_one(changed, text); !wrong.empty()) return wrong;
    for (auto const& vessel : changed.vessels) {
        if (!vessel.band) continue;
        if (auto const mistake = mistake_in_band(*vessel.band, vessel, changed))
            return vessel.name + ".band: " + mistake->wrong + "; " + mistake->right;
    }
    settings = std::move(changed);
    return {};
}

}  // namespace ingle
