// How a vessel held its band: times by straight lines from reading to reading, gaps apart.
#include <algorithm>
#include <cmath>

#include "daemon/review/at.hpp"
#include "daemon/review/facts.hpp"

namespace ingle {
namespace {

constexpr double merged_within_s = 60;   // two spells this close on one side are one excursion
constexpr double shortest_asked_s = 60;  // what was asked for by mistake and not reached is not reviewed
constexpr double shortest_s = 10;        // a shorter spell counts as time, not as an excursion

struct Asked {
    std::size_t stage = 0;
    CookVessel const* vessel = nullptr;
    Band band;
    double from = 0, to = 0;
};

// The bands asked for, stage by stage: the stage's own or the vessel's standing one, until somebody holds the
// vessel at another.
std::vector<Asked> bands_asked(CookRecord const& record) {
    std::vector<Asked> all;
    for (std::size_t i = 0; i < record.stages.size(); ++i) {
        auto const& stage = record.stages[i];
        if (stage.vessel < 0) continue;
        auto const& vessel = record.vessels[static_cast<std::size_t>(stage.vessel)];
        auto band = stage.band ? stage.band : vessel.standing;
        double from = stage.began;
        auto const until = [&](double to) {
            if (band && to > from) all.push_back({i, &vessel, *band, from, to});
            from = to;
        };
        for (auto const& change : vessel.changes) {
            if (change.t <= stage.began) {
                if (!stage.band) band = change.band;
            } else if (change.t < stage.ended) {
                if (change.band == band) continue;  // said again: one stretch goes on
                until(change.t);
                band = change.band;
            }
        }
        until(stage.ended);
    }
    return all;
}

std::optional<Step> clipped(Step const& step, double from, double to) {
    double const t0 = std::max(step.t0, from), t1 = std::min(step.t1, to);
    if (t1 <= t0) return std::nullopt;
    auto const c = [&](double t) { return step.c0 + (step.c1 - step.c0) * (t - step.t0) / step.length(); };
    return Step{t0, c(t0), t1, c(t1), step.gap};
}

bool holds(Band const& band, double c) {
    return c >= band.low.celsius - rounding_k && c <= band.high.celsius + rounding_k;
}

std::optional<double> first_inside(std::vector<Step> const& steps, Band const& band) {
    for (auto const& step : steps) {
        if (step.gap) continue;
        if (holds(band, step.c0)) return step.t0;
        double const level = step.c0 < band.low.celsius ? band.low.celsius : band.high.celsius;
        if ((step.c0 - level) * (step.c1 - level) <= 0) return step.crossing(level);
    }
    return std::nullopt;
}

// The part of a measured step beyond one side of the band.
struct Beyond {
    double from = 0, to = 0, depth = 0, area = 0;  // s, s, K, K*s
};
std::optional<Beyond> beyond(Step const& step, double level, bool above) {
    double const sign = above ? 1 : -1;
    double const b0 = sign * (step.c0 - level), b1 = sign * (step.c1 - level);
    if (std::max(b0, b1) <= rounding_k) return std::nullopt;
    double const t0 = b0 > 0 ? step.t0 : step.crossing(level), t1 = b1 > 0 ? step.t1 : step.crossing(level);
    return Beyond{t0, t1, std::max(b0, b1), (std::max(b0, 0.0) + std::max(b1, 0.0)) / 2 * (t1 - t0)};
}

class Excursions {
public:
    explicit Excursions(Band const& band) : band_(band) {}

    void add(Step const& step) {
        if (step.gap) {
            for (auto* side : {&above_, &below_})
                if (side->open && step.t0 - side->open->to < 1e-6) side->open->cut = true, close(*side);
            after_gap_ = step.t1;
            return;
        }
        add(step, above_, band_.high.celsius, true);
        add(step, below_, band_.low.celsius, false);
    }
    std::vector<Excursion> finish() {
        close(above_);
        close(below_);
        std::erase_if(done_, [](Excursion const& e) { return e.seconds() < shortest_s; });
        std::ranges::sort(done_, {}, &Excursion::from);
        return std::move(done_);
    }

private:
    struct Side {
        std::optional<Excursion> open;
    };
    void close(Side& side) {
        if (side.open) done_.push_back(*side.open);
        side.open.reset();
    }
    void add(Step const& step, Side& side, double level, bool above) {
        auto const part = beyond(step, level, above);
        if (!part) return;
        if (side.open && part->from - side.open->to > merged_within_s) close(side);
        if (!side.open) {
            side.open = Excursion{part->from, part->to, above};
            side.open->cut = after_gap_ && part->from - *after_gap_ < 1e-6;
        }
        side.open->to = part->to;
        side.open->depth_k = std::max(side.open->depth_k, part->depth);
        side.open->area_k_min += part->area / 60;
    }

    Band band_;
    Side above_, below_;
    std::optional<double> after_gap_;
    std::vector<Excursion> done_;
};

BandFacts facts_of(Asked const& asked) {
    BandFacts facts;
    facts.stage = asked.stage;
    facts.vessel = asked.vessel->name;
    facts.band = asked.band;
    facts.from = asked.from;
    facts.to = asked.to;
    std::vector<Step> steps;
    for (auto const& step : plain_steps(asked.vessel->medium))
        if (auto const part = clipped(step, asked.from, asked.to)) steps.push_back(*part);
    auto const reached = first_inside(steps, asked.band);
    if (!reached) {
        for (auto const& step : steps)
            if (step.gap) facts.without_s += step.length();
        return facts;
    }
    facts.reached_s = *reached - asked.from;
    Excursions excursions(asked.band);
    double const low = asked.band.low.celsius, high = asked.band.high.celsius;
    double sum = 0, squares = 0, length = 0;
    for (auto const& whole : steps) {
        auto const part = clipped(whole, *reached, asked.to);
        if (!part) continue;
        excursions.add(*part);
        if (part->gap) continue;
        double const above = [&] {
            auto const b = beyond(*part, high, true);
            return b ? b->to - b->from : 0.0;
        }();
        double const below = [&] {
            auto const b = beyond(*part, low, false);
            return b ? b->to - b->from : 0.0;
        }();
        facts.above_s += above;
        facts.below_s += below;
        facts.in_s += part->length() - above - below;
        facts.min_c = std::min({facts.min_c.value_or(part->c0), part->c0, part->c1});
        facts.max_c = std::max({facts.max_c.value_or(part->c0), part->c0, part->c1});
        length += part->length();
        sum += (part->c0 + part->c1) / 2 * part->length();
        squares += (part->c0 * part->c0 + part->c0 * part->c1 + part->c1 * part->c1) / 3 * part->length();
    }
    facts.without_s = std::max(0.0, asked.to - *reached - length);
    if (length > 0) {
        facts.mean_c = sum / length;
        facts.deviation_k = std::sqrt(std::max(0.0, squares / length - *facts.mean_c * *facts.mean_c));
    }
    facts.excursions = excursions.finish();
    return facts;
}

}  // namespace

std::vector<BandFacts> band_facts(CookRecord const& record) {
    std::vector<BandFacts> all;
    for (auto const& asked : bands_asked(record))
        if (auto facts = facts_of(asked); facts.reached_s || asked.to - asked.from >= shortest_asked_s)
            all.push_back(std::move(facts));
    return all;
}

}  // namespace ingle
