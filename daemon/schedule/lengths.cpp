#include "daemon/schedule/lengths.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <vector>

#include "daemon/food/classes.hpp"
#include "daemon/forecast/planned_time.hpp"

namespace ingle::schedule {
namespace {

constexpr double fridge_c = 4.4, frozen_c = -18;
constexpr std::size_t enough_cooks = 3;  // fewer say nothing of how much they differ
constexpr double pound_kg = 0.45359237, hour_s = 3600;
// USDA's rule as extension services give it (tests/reference/food-safety/thawing.csv): in the fridge at least
// a day for each 5 lb; in cold water an hour for 1 lb, 2 to 3 h for 3 to 4 lb, half an hour a pound where it
// is large. How much longer it may take: common practice, no source.
constexpr double fridge_low = 24 * hour_s / 5, fridge_likely = 24 * hour_s / 4.5,
                 fridge_high = 24 * hour_s / 3;
// The same rule of small pieces: a pound takes a whole day. Some thaw overnight: common practice, no source.
constexpr double small_low_s = 12 * hour_s, small_likely_s = 24 * hour_s, small_high_s = 36 * hour_s;
constexpr double water_small_lb = 1, water_piece_lb = 4, water_small_s = hour_s, water_piece_s = 3 * hour_s;
constexpr double water_large_s_per_lb = hour_s / 2, roughly = 1.3;

double quantile(std::vector<double> const& sorted, double share) {
    double const place = share * static_cast<double>(sorted.size() - 1);
    auto const below = static_cast<std::size_t>(place);
    auto const above = std::min(below + 1, sorted.size() - 1);
    return sorted[below] + (place - static_cast<double>(below)) * (sorted[above] - sorted[below]);
}

StageLength from_past(std::span<double const> past) {
    std::vector<double> sorted(past.begin(), past.end());
    std::ranges::sort(sorted);
    return {quantile(sorted, 0.5), quantile(sorted, 0.1), quantile(sorted, 0.9),
            std::to_string(past.size()) + " past cooks of it here"};
}

StageLength unknown(std::string source) {
    StageLength length;
    length.source = std::move(source), length.known = false;
    return length;
}

StageLength exactly(double seconds, std::string source) {
    return {seconds, seconds, seconds, std::move(source)};
}

std::optional<double> medium_c(StageFacts const& facts) {
    auto const band = facts.stage.band ? facts.stage.band : facts.vessel ? facts.vessel->band : std::nullopt;
    if (!band) return std::nullopt;
    return (band->low.celsius + band->high.celsius) / 2;
}

StageLength to_core(StageFacts const& facts, double target_c) {
    auto const medium = medium_c(facts);
    if (!medium || !facts.vessel) return unknown("unknown: no band says how warm it is there");
    DishEntries entries;
    entries.shape = facts.dish.shape;
    if (facts.dish.thickness) entries.thickness_m = facts.dish.thickness->metres;
    if (facts.dish.mass) entries.mass_kg = facts.dish.mass->kilograms;
    if (auto const* food = food_class(facts.dish.food))
        entries.liquid = food->mixes(), entries.hollow = food->hollow;
    entries.surroundings = surroundings_of(facts.vessel->kind);
    auto const planned = facts.times ? facts.times->of(entries, facts.start_c, *medium, target_c)
                                     : planned_time(entries, facts.start_c, *medium, target_c);
    if (!planned.seconds) {
        auto none = unknown("unknown: at that heat the core does not come to its target within 36 h");
        none.impossible = true;
        return none;
    }
    bool const sized = entries.thickness_m || entries.mass_kg;
    return {*planned.seconds, *planned.low_s, *planned.high_s,
            sized ? "heat conduction, from its size" : "heat conduction; its size is not said"};
}

double in_cold_water(double pounds) {
    double const share = (std::clamp(pounds, water_small_lb, water_piece_lb) - water_small_lb) /
                         (water_piece_lb - water_small_lb);
    return std::max(water_small_s + share * (water_piece_s - water_small_s), pounds * water_large_s_per_lb);
}

StageLength to_thaw(StageFacts const& facts) {
    if (!facts.dish.mass) return unknown("unknown: thawing goes by the mass, which is not said");
    double const pounds = facts.dish.mass->kilograms / pound_kg;
    if (facts.vessel && is_cold(facts.vessel->kind))
        return {std::max(pounds * fridge_likely, small_likely_s), std::max(pounds * fridge_low, small_low_s),
                std::max(pounds * fridge_high, small_high_s),
                "by its mass: a day in the fridge for each 4 to 5 lb, and at least one (USDA)"};
    double const likely = in_cold_water(pounds);
    return {likely, likely / roughly, likely * roughly, "by its mass, in cold water (USDA)"};
}

// Both must be over.
StageLength longer(StageLength const& a, StageLength const& b) {
    auto out = a.likely >= b.likely ? a : b;
    out.likely = std::max(a.likely, b.likely);
    out.low = std::max(a.low, b.low), out.high = std::max(a.high, b.high);
    out.known = a.known && b.known, out.impossible = a.impossible || b.impossible;
    bool const either = out.low < out.high && a.likely > 0 && b.likely > 0 && a.source != b.source;
    bool const told = a.source.starts_with(b.source + "; ") || b.source.starts_with(a.source + "; ");
    if (either && !told) out.source = a.source + "; " + b.source;
    if (either && told) out.source = a.source.size() > b.source.size() ? a.source : b.source;
    if (!a.known) out.source = a.source;
    if (!b.known) out.source = b.source;
    return out;
}

}  // namespace

FoodPhase phase_of(StageSettings const& stage, VesselSettings const* vessel) {
    return food_phase(stage.does, vessel ? std::optional(vessel->kind) : std::nullopt, stage.until.core);
}

bool may_wait(FoodPhase phase) {
    return phase == FoodPhase::hot_holding || phase == FoodPhase::cold_holding ||
           phase == FoodPhase::chilling;
}

StageLength length_of(StageFacts const& facts) {
    auto const& stage = facts.stage;
    auto const phase = phase_of(stage, facts.vessel);
    if (stage.until.only_time() && !stage.at_least) return exactly(stage.until.time->seconds, "the plan");
    if (facts.past.size() >= enough_cooks && !may_wait(phase)) return from_past(facts.past);
    auto length = exactly(0, "the plan");
    if (stage.until.time) length = longer(length, exactly(stage.until.time->seconds, "the plan"));
    if (stage.at_least) length = longer(length, exactly(stage.at_least->seconds, "the plan"));
    if (phase == FoodPhase::thawing && (stage.until.core || stage.until.none()))
        return longer(length, to_thaw(facts));
    if (stage.until.core) length = longer(length, to_core(facts, stage.until.core->celsius));
    if (stage.until.lethality)
        length = longer(length, unknown("unknown: it ends by a lethality, which only the readings tell"));
    if (stage.until.none() && !may_wait(phase))
        length = longer(length, unknown("unknown: it ends when you say so"));
    return length;
}

namespace {

// Of what was expected: what has run for longer than that is not over by it.
StageLength rest_of(StageLength const& whole, double passed) {
    if (!whole.known) return whole;
    auto rest = whole;
    for (auto* s : {&rest.likely, &rest.low, &rest.high}) *s = std::max(0.0, *s - passed);
    if (passed < whole.likely) return rest;
    if (whole.exact() || passed >= whole.high)
        return unknown("unknown: it has run for longer than was expected by " + whole.source);
    rest.likely = rest.high / 2;
    return rest;
}

}  // namespace

StageLength left_of(StageFacts const& facts, StageLength const& whole, StageSoFar const& so_far) {
    auto const& stage = facts.stage;
    // Ended by the clock alone, it is not done while its core is still on its way.
    bool const raw = !stage.until.core && !so_far.core_there && so_far.left && so_far.last_heat;
    if (so_far.over && !raw) return exactly(0, "its end, which was read");
    auto length = exactly(0, "the plan");
    auto const to_core_now = [&] {
        return StageLength{*so_far.left, so_far.left_low.value_or(*so_far.left),
                           so_far.left_high.value_or(*so_far.left), "the forecast of now"};
    };
    auto const of_plan = [&](std::optional<Duration> const& asked, std::optional<double> left) {
        if (asked)
            length = longer(
                length, exactly(left.value_or(std::max(0.0, asked->seconds - so_far.passed)), "the plan"));
    };
    if (raw) length = longer(length, to_core_now());
    if (so_far.over) return length;
    of_plan(stage.at_least, {});
    of_plan(stage.until.time, so_far.clock_left);
    if (stage.until.time && so_far.unread)
        length = longer(length, unknown("unknown: nothing is read, and its time stands still"));
    bool const waits_for_core = stage.until.core && !so_far.core_there;
    bool const by_past = facts.past.size() >= enough_cooks;
    bool const thaws = phase_of(stage, facts.vessel) == FoodPhase::thawing;
    if (waits_for_core && so_far.left) return longer(length, to_core_now());
    if (waits_for_core && so_far.core_c && !by_past && !thaws) {
        auto now = facts;
        now.start_c =
            std::round(*so_far.core_c * 2) / 2;  // what is asked again each minute stays the same for a while
        auto rest = to_core(now, stage.until.core->celsius);
        rest.source += rest.known ? ", from its core now" : "";
        return longer(length, rest);
    }
    bool const goes_on = waits_for_core || stage.until.lethality || stage.until.none();
    return goes_on && (waits_for_core || !may_wait(phase_of(stage, facts.vessel)))
               ? longer(length, rest_of(whole, so_far.passed))
               : length;
}

double core_after(StageFacts const& facts) {
    if (facts.stage.until.core) return facts.stage.until.core->celsius;
    auto const phase = phase_of(facts.stage, facts.vessel);
    if (is_cold_phase(phase) && phase != FoodPhase::resting) return fridge_c;
    return facts.start_c;
}

double first_core(FoodPhase first) {
    return first == FoodPhase::thawing ? frozen_c : fridge_c;
}

}  // namespace ingle::schedule
