// What to do differently next time, as far as the record itself says it: each sentence is a sum of this cook.
#include <algorithm>
#include <cmath>

#include "daemon/review/facts.hpp"

namespace ingle {
namespace {

std::string span(double s) {
    return show(Duration{std::max(0.0, s)});
}

std::string times(std::size_t n) {
    return n == 1 ? "once" : n == 2 ? "twice" : std::to_string(n) + " times";
}

void of_bands(std::vector<std::string>& said, CookRecord const& record, CookFacts const& facts) {
    auto const celsius = [&](double c) { return show(Temperature{c}, record.units); };
    auto const kelvin = [&](double k) { return show(TemperatureDifference{k}, record.units); };
    for (auto const& band : facts.bands) {
        auto const& stage = record.stages[band.stage];
        if (!band.reached_s) {
            said.push_back(band.vessel + " never came into the band of the stage " + stage.name + ".");
            continue;
        }
        if (*band.reached_s > 300)
            said.push_back(band.vessel + " came into its band " + span(*band.reached_s) + " after " +
                           stage.name + " began: started that much earlier, it would have been ready.");
        // Of a stage whose band was changed meanwhile: one sentence for all its bands.
        double above_s = 0, below_s = 0;
        std::size_t bands = 0;
        bool first = true;
        for (auto const& one : facts.bands) {
            if (one.stage != band.stage || one.vessel != band.vessel) continue;
            if (bands++ == 0) first = &one == &band;
            above_s += one.above_s, below_s += one.below_s;
        }
        double const outside = above_s + below_s;
        if (!first || outside < 60) continue;
        bool const above = above_s >= below_s;
        std::string text = band.vessel + " was outside its band for " + span(outside) + " during " +
                           stage.name + ", " + span(above ? above_s : below_s) + " of it " +
                           (above ? "above" : "below") + ".";
        double const middle = (band.band.low.celsius + band.band.high.celsius) / 2;
        if (bands == 1 && band.mean_c && std::abs(*band.mean_c - middle) > 0.5)
            text += " Its mean, " + celsius(*band.mean_c) + ", lies " +
                    kelvin(std::abs(*band.mean_c - middle)) + (*band.mean_c > middle ? " above" : " below") +
                    " the middle of the band.";
        said.push_back(std::move(text));
    }
}

void of_stages(std::vector<std::string>& said, CookRecord const& record) {
    for (auto const& stage : record.stages) {
        double const took = stage.ended - stage.began;
        if (stage.until_s && stage.over && took > *stage.until_s + 120)
            said.push_back("The stage " + stage.name + " was planned for " + span(*stage.until_s) +
                           " and took " + span(took) + ".");
        if (stage.at_most_s && took > *stage.at_most_s)
            said.push_back("The stage " + stage.name + " ran " + span(took - *stage.at_most_s) +
                           " beyond its limit of " + span(*stage.at_most_s) + ".");
    }
}

void of_doors(std::vector<std::string>& said, CookFacts const& facts) {
    std::vector<std::string> vessels;
    for (auto const& door : facts.doors)
        if (std::ranges::find(vessels, door.vessel) == vessels.end()) vessels.push_back(door.vessel);
    for (auto const& vessel : vessels) {
        std::size_t n = 0, back = 0;
        double cost = 0;
        for (auto const& door : facts.doors) {
            if (door.vessel != vessel) continue;
            ++n;
            if (!door.recovery_s) continue;
            ++back;
            cost += door.open_s + *door.recovery_s;
        }
        std::string text = vessel + " was opened " + times(n);
        if (back > 0)
            text += "; with the recoveries that took " + span(cost) +
                    (back > 1 ? ", " + span(cost / static_cast<double>(back)) + " each" : "");
        if (back < n)
            text += back == 0 ? " and was not seen to come back"
                              : "; " + times(n - back) + " it was not seen to come back";
        said.push_back(text + ".");
    }
}

void of_cooling(std::vector<std::string>& said, FoodFacts const& food) {
    for (auto const& core : food.cores) {
        for (auto const& row : core.cooling) {
            if (row.answer != "missed" || row.took_most_s <= row.allowed_s) continue;
            if (!std::isfinite(row.took_most_s)) continue;
            said.push_back("Cooling to " + row.what + (row.passed ? " took " : " took at least ") +
                           span(row.took_most_s - row.allowed_s) + " longer than the " + span(row.allowed_s) +
                           " allowed: smaller pieces, shallow pans or an ice bath shorten it.");
            break;
        }
    }
}

}  // namespace

std::vector<std::string> next_time(CookRecord const& record, CookFacts const& facts) {
    std::vector<std::string> said;
    of_bands(said, record, facts);
    of_stages(said, record);
    of_doors(said, facts);
    if (record.dish.serve_at && facts.forecasts.core_reached_s) {
        double const late = seconds(record.began.time_since_epoch()) + *facts.forecasts.core_reached_s -
                            static_cast<double>(*record.dish.serve_at) / 1000;
        // A serving time of another day belongs to another cook of this dish.
        if (std::abs(late) < 86400)
            said.push_back("The core was at its target " + span(std::abs(late)) +
                           (late > 0 ? " after" : " before") + " the serving time.");
    }
    of_cooling(said, facts.food);
    std::vector<double> waits;
    std::size_t unseen = 0;
    for (auto const& alarm : facts.alarms) {
        if (auto const wait = alarm.to_acknowledge_s())
            waits.push_back(*wait);
        else
            ++unseen;
    }
    if (!waits.empty()) {
        std::ranges::sort(waits);
        said.push_back("Half of the alarms that were acknowledged were within " +
                       span(waits[(waits.size() - 1) / 2]) + "; the slowest after " + span(waits.back()) +
                       (unseen > 0 ? ". " + std::to_string(unseen) + " never were." : "."));
    } else if (unseen > 0) {
        said.push_back(unseen == 1 ? "Its one alarm was not acknowledged."
                                   : "None of the " + std::to_string(unseen) + " alarms was acknowledged.");
    }
    if (double const blind = blind_s(facts.gaps); blind > 0)
        said.push_back("For " + span(blind) +
                       " at least one probe of this cook gave no readings; what "
                       "happened then is not known.");
    return said;
}

}  // namespace ingle
