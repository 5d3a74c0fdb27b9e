#include "daemon/forecast/planned_time.hpp"

#include <algorithm>
#include <cstdint>
#include <tuple>
#include <vector>

#include "daemon/forecast/draws.hpp"

namespace ingle {
namespace {

constexpr std::uint64_t seed = 20261126;
constexpr int bodies = 512;
constexpr double shortest_step_s = 10;
constexpr double mostly_never = 0.5;

Shape draw_shape(Prior const& prior, double share) {
    double const slab = prior.share_of(Shape::slab);
    if (share < slab) return Shape::slab;
    return share < slab + prior.share_of(Shape::cylinder) ? Shape::cylinder : Shape::sphere;
}

// In the middle, and even at the start: who plans means the thermal centre.
BodyParameters draw(Prior const& prior, Draws& draws, double start_c) {
    Unknowns z;
    for (auto& one : z) one = static_cast<float>(draws.normal());
    auto parameters = prior.parameters(draw_shape(prior, draws.uniform()), z);
    if (!prior.evaporates()) parameters.wetness = 0;
    parameters.start_c = start_c;
    parameters.off_centre = parameters.head_start = parameters.medium_gain = 0;
    return parameters;
}

// Negative: not within the horizon.
double arrival_of(BodyParameters const& parameters, double medium_c, double target_c) {
    Body body(parameters, medium_c);
    float const sign = target_c > parameters.start_c ? 1.0F : -1.0F;
    auto const target = static_cast<float>(target_c), medium = static_cast<float>(medium_c);
    body.use_step(std::max(shortest_step_s, parameters.tau_s / 500));
    float before = sign * (static_cast<float>(parameters.start_c) - target);
    for (double t = 0; t < planning_horizon_s; t += body.dt()) {
        float const now = sign * (body.step(medium) - target);
        if (now >= 0) return t + body.dt() * static_cast<double>(before / (before - now));
        before = now;
    }
    return -1;
}

}  // namespace

PlannedTime planned_time(DishEntries const& entries, double start_c, double medium_c, double target_c) {
    Prior const prior(entries, start_c);
    Draws draws(seed);
    std::vector<double> times;
    for (int i = 0; i < bodies; ++i) {
        double const after = arrival_of(draw(prior, draws, start_c), medium_c, target_c);
        if (after >= 0) times.push_back(after);
    }
    PlannedTime planned;
    planned.never = 1 - static_cast<double>(times.size()) / bodies;
    if (planned.never > mostly_never) return planned;
    std::ranges::sort(times);
    auto const at = [&](double share) {
        auto const i = static_cast<std::size_t>(share * bodies);
        return i < times.size() ? times[i] : planning_horizon_s;
    };
    planned.low_s = at(0.1), planned.seconds = at(0.5), planned.high_s = at(0.9);
    return planned;
}

bool PlannedTimes::Answer::is_of(Answer const& asked) const {
    auto const all = [](Answer const& one) {
        return std::tie(one.entries.shape, one.entries.thickness_m, one.entries.mass_kg,
                        one.entries.surroundings, one.entries.liquid, one.entries.hollow, one.start_c,
                        one.medium_c, one.target_c);
    };
    return all(*this) == all(asked);
}

PlannedTime PlannedTimes::of(DishEntries const& entries, double start_c, double medium_c, double target_c) {
    constexpr std::size_t most = 32;
    Answer asked{entries, start_c, medium_c, target_c};
    auto const known = std::ranges::find_if(answers_, [&](Answer const& one) { return one.is_of(asked); });
    if (known != answers_.end()) {
        std::rotate(known, known + 1, answers_.end());
        return answers_.back().time;
    }
    if (answers_.size() == most) answers_.erase(answers_.begin());
    asked.time = planned_time(entries, start_c, medium_c, target_c);
    answers_.push_back(asked);
    return asked.time;
}

}  // namespace ingle
