// A box's kitchen, what is true of a day in it, and the files that its cook changes: for box_days_test.cpp.
#pragma once

#include <algorithm>
#include <cctype>
#include <cstdint>
#include <sstream>
#include <string>
#include <vector>

#include "tests/support/kitchen_run.hpp"

namespace ingle::test {

constexpr std::int64_t day_s = 86'400, hour_s = 3600, every_s = 10;
// Longer than any watch and any gap of this life takes, one after the other.
constexpr std::int64_t told_within_s = 45 * 60, over_within_s = 75 * 60;
enum : int { pot, fridge, shelf };
enum : int { pot_probe, fridge_probe, core_probe, shelf_probe, ham_probe, pulled_probes = core_probe + 1 };
enum : int { roll, ham };

// What the cook changes in the files now and then.
struct Files {
    std::string first_stage = "poach";
    double pot_low_c = 60, fridge_high_c = 5;
    int racks = 0;  // vessels, each with a dish in it, that were added
    Band pot_band() const { return {{pot_low_c}, {pot_low_c + 10}}; }
    Band fridge_band() const { return {{0}, {fridge_high_c}}; }
};

inline Settings kitchen_of_a_box(Files const& files) {
    auto settings = one_vessel(VesselKind::pot, {});
    add_vessel(settings, "fridge", VesselKind::fridge, add_probe(settings, "f", every_s),
               {{0, files.fridge_high_c}});
    add_probe(settings, "core", every_s);
    settings.probes[pot_probe].every = Duration{1.0 * every_s};
    add_vessel(settings, "shelf", VesselKind::pot, add_probe(settings, "s", every_s), {});
    add_probe(settings, "h", every_s);
    add_dish(settings, "roll", pot, core_probe, "ground-poultry").plan = "poaching";
    add_dish(settings, "ham", fridge, ham_probe, "cured-ham");
    for (int rack = 1; rack <= files.racks; ++rack) {
        auto const name = "rack-" + std::to_string(rack);
        add_vessel(settings, name, VesselKind::pot, add_probe(settings, name + "-air", every_s), {});
        add_dish(settings, "loaf-" + std::to_string(rack), shelf + rack, -1, "whole-meat");
    }
    settings.channels.emplace_back().name = "phone";
    PlanSettings plan;
    plan.name = "poaching";
    plan.stages.resize(2);
    plan.stages[0].name = files.first_stage;
    plan.stages[0].band = files.pot_band();
    plan.stages[1].name = "rest";
    plan.stage_vessels.resize(2);
    settings.plans.push_back(plan);
    return settings;
}

struct Day {
    std::int64_t begin = 0, end = 0;          // of the cook
    std::int64_t hot_from = 0, hot_to = 0;    // the pot is forgotten
    std::int64_t warm_from = 0, warm_to = 0;  // the fridge fails
    bool within(std::int64_t from, std::int64_t to, std::int64_t s) const { return from < s && s < to; }
    double pot_c(std::int64_t s) const {
        if (within(hot_from, hot_to, s)) return 80;
        if (s < begin || s > end) return 20;
        return std::min(65.0, 20 + static_cast<double>(s - begin) / 40);
    }
    double fridge_c(std::int64_t s) const { return within(warm_from, warm_to, s) ? 12 : 3; }
};

// "missed: 2 h 10 min to 3 h" in seconds.
inline std::vector<double> spans_in(std::string const& words) {
    std::vector<double> spans;
    double number = 0;
    bool inside = false;
    std::istringstream in(words);
    for (std::string word; in >> word;) {
        if (std::isdigit(static_cast<unsigned char>(word[0]))) {
            number = std::stod(word);
            continue;
        }
        double const unit = word == "h" ? 3600 : word == "min" ? 60 : word == "s" ? 1 : 0;
        if (unit == 0) {
            inside = false;
            continue;
        }
        if (!inside) spans.push_back(0);
        inside = true;
        spans.back() += number * unit;
    }
    return spans;
}

}  // namespace ingle::test
