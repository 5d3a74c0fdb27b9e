// Readings on their way through conditioning to the food, and the watches over the probes themselves.
#include <algorithm>

#include "daemon/kitchen/impl.hpp"

namespace ingle {
namespace {

constexpr Span worth_a_word = std::chrono::seconds(30);  // a shorter loss is a gap in the record only

}  // namespace

void Kitchen::Impl::take(int probe, Reading const& reading, Effects& out) {
    if (probe < 0 || probe >= static_cast<int>(probes.size())) {
        refuse({SubjectKind::probe, probe}, "a reading came for a probe that the kitchen does not have", out);
        return;
    }
    auto const from = out.size();
    auto timely = reading;
    timely.at = std::max(reading.at, now);  // a stamp in the past counts as now
    conditioners[static_cast<std::size_t>(probe)].take(timely, out);
    feed_dishes(out, from);
}

void Kitchen::Impl::condition(Instant at, Effects& out) {
    auto const from = out.size();
    for (std::size_t p = 0; p < conditioners.size(); ++p) {
        conditioners[p].advance(at, out);
        signals[p] = conditioners[p].signal();
        auto& state = probes[p];
        if (signals[p].silent_since && at - *signals[p].silent_since >= worth_a_word) {
            state.lost = signals[p].silent_since;
        } else if (!signals[p].silent_since && state.lost) {
            Event event{at, "probe-back", {SubjectKind::probe, static_cast<int>(p)}, "", {}};
            event.text = settings.probes[p].name + " reads again after " +
                         show(Duration{std::max(1.0, seconds(at - *state.lost))}) + ".";
            event.numbers = {{"silent_s", seconds(at - *state.lost)}};
            out.push_back(std::move(event));
            state.lost.reset();
        }
    }
    feed_dishes(out, from);
}

void Kitchen::Impl::feed_dishes(Effects& out, std::size_t from) {
    // In order of time, the medium before the core, as the review reads them from the logbook.
    std::vector<Recorded const*> rows;
    for (std::size_t i = from; i < out.size(); ++i)
        if (auto const* row = std::get_if<Recorded>(&out[i]); row && row->celsius) rows.push_back(row);
    std::ranges::stable_sort(rows, [&](auto const* a, auto const* b) {
        auto const core = [&](auto const* row) {
            return probes[static_cast<std::size_t>(row->probe)].is_core;
        };
        return a->at != b->at ? a->at < b->at : core(a) < core(b);
    });
    for (auto const* row : rows) {
        keep_recent(*row);
        for (auto& dish : dishes) feed(dish, *row);
    }
}

void Kitchen::Impl::feed(DishState& dish, Recorded const& row) {
    if (!dish.cook.begun() || !dish.ledger) return;
    auto const core = std::find(dish.probes.begin(), dish.probes.end(), row.probe);
    int const vessel = dish.cook.vessel();
    if (core != dish.probes.end()) {
        auto const place = static_cast<std::size_t>(core - dish.probes.begin());
        dish.ledger->take(row.at, static_cast<int>(place), *row.celsius, row.quality);
    } else if (vessel >= 0 && settings.vessels[static_cast<std::size_t>(vessel)].medium == row.probe) {
        dish.ledger->medium(row.at, *row.celsius, row.quality);
    } else {
        return;
    }
    dish.fed = std::max(dish.fed, row.at);
}

// A vessel that is held, or a dish that is cooked, depends on it.
bool Kitchen::Impl::in_use(int probe) const {
    auto const& state = probes[static_cast<std::size_t>(probe)];
    auto const depends = [&](DishState const& dish) {
        return dish.cook.begun() && (std::ranges::find(dish.probes, probe) != dish.probes.end() ||
                                     (state.vessel >= 0 && dish.cook.vessel() == state.vessel));
    };
    return (state.vessel >= 0 && vessels[static_cast<std::size_t>(state.vessel)].band) ||
           std::ranges::any_of(dishes, depends);
}

void Kitchen::Impl::step_probes(Effects& out) {
    doubted.assign(probes.size(), 0);
    for (std::size_t p = 0; p < probes.size(); ++p) {
        auto& state = probes[p];
        ProbeSituation situation;
        situation.now = now;
        situation.probe = &settings.probes[p];
        situation.number = static_cast<int>(p);
        situation.signal = &signals[p];
        situation.signals = signals;
        situation.probes = settings.probes;
        situation.companions = &state.companions;
        situation.is_core = state.is_core;
        if (room_probe >= 0 && signals[static_cast<std::size_t>(room_probe)].fresh)
            situation.room_c = signals[static_cast<std::size_t>(room_probe)].level;
        situation.in_use = in_use(static_cast<int>(p));
        if (state.vessel >= 0) {
            situation.vessel = &settings.vessels[static_cast<std::size_t>(state.vessel)];
            situation.boiling_c = vessels[static_cast<std::size_t>(state.vessel)].boiling_c;
            situation.band = vessels[static_cast<std::size_t>(state.vessel)].band;
        }
        for (auto& running : state.watches) {
            watched.findings.clear();
            watched.events.clear();
            watched.doubted.clear();
            running.watch->step(situation, watched);
            for (int const q : watched.doubted) doubted[static_cast<std::size_t>(q)] = 1;
            for (auto& finding : watched.findings) {
                judge({SubjectKind::probe, static_cast<int>(p)}, std::move(finding), {});
            }
            for (auto& event : watched.events) out.push_back(std::move(event));
        }
    }
    for (std::size_t p = 0; p < probes.size(); ++p) conditioners[p].doubt(doubted[p] != 0);
}

}  // namespace ingle
