// Takes over from the judge of each core what has become certain, and takes back what turned out not to be
// the core's.
#include <algorithm>
#include <cmath>
#include <utility>

#include "daemon/food/ledger_impl.hpp"

namespace ingle {

void FoodLedger::Impl::reach(std::size_t core, double t) {
    for (auto& to_come = changes[core]; !to_come.empty() && to_come.front().t <= t; to_come.pop_front()) {
        certain_phase[core] = to_come.front().phase;
        cores[core].phase(to_come.front().t, certain_phase[core]);
        if (stands[core]) stands[core]->since.push_back(to_come.front());
    }
}

// A reading may come a little after its time, when a stage has ended already.
FoodPhase FoodLedger::Impl::phase_at(std::size_t core, double t) const {
    auto then = certain_phase[core];
    for (auto const& change : changes[core])
        if (change.t <= t) then = change.phase;
    return then;
}

// What was read of this core was something else: it is as if it had never been read.
void FoodLedger::Impl::forget(std::size_t core, double t) {
    reach(core, t);
    ++withdrawn;
    stands[core].reset();
    cores[core] = CoreTrack(*food, *rule);
    cores[core].phase(phase_since, certain_phase[core]);
}

// A tip that is as cold as the air or brine around it says nothing of the food, but both say how warm it can
// be.
void FoodLedger::Impl::note_beside(std::size_t core, JudgedReading const& reading) {
    double const limit = medium_cold.limit_c() + rounding_k;
    if (reading.doubt != CoreDoubt::at_medium || !is_held_cold(phase_at(core, reading.t)) || !reading.medium)
        return;
    double const highest = std::max(reading.celsius, *reading.medium);
    if (highest <= limit) cores[core].beside_cold(reading.t, highest);
}

// As it was when the newest reading was first read, in case that it turns out to have stood for too long.
void FoodLedger::Impl::note_stand(std::size_t core, JudgedReading const& reading) {
    auto& stand = stands[core];
    auto const& track = cores[core];
    bool const stands_still = track.seen() && std::abs(reading.celsius - track.last_c()) < same_reading_k;
    if (!stands_still)
        stand.reset();
    else if (!stand)
        stand.emplace(Stand{track, {}});
}

// What was read since its reading stands is a gap: the core may have gone anywhere.
void FoodLedger::Impl::take_back(std::size_t core, JudgedReading const& reading) {
    auto& stand = stands[core];
    reach(core, reading.t);
    if (!stand || stand->before.last_t() > *reading.back_to + 1) return;
    cores[core] = stand->before;
    for (auto const& change : stand->since) cores[core].phase(change.t, change.phase);
    cores[core].break_here();
    stand.reset();
}

void FoodLedger::Impl::settle(std::size_t core) {
    auto& track = cores[core];
    for (auto const& reading : evidence[core].take_judged()) {
        if (tell) tell(static_cast<int>(core), reading);
        if (reading.voids) forget(core, reading.t);
        if (reading.back_to) take_back(core, reading);
        if (reading.doubt != CoreDoubt::none) {
            note_beside(core, reading);
            continue;
        }
        reach(core, reading.t);
        if (reading.new_place) {
            track.void_heating();
            stands[core].reset();
        }
        if (reading.after_move) track.break_here();
        auto now_context = context();
        now_context.phase = certain_phase[core];
        now_context.bare = evidence[core].bare();
        now_context.in_a_body = evidence[core].shown();
        note_stand(core, reading);
        auto const before =
            track.seen() ? std::optional(std::pair(track.last_t(), track.last_c())) : std::nullopt;
        double const beside_s = track.beside_cold_s();
        track.take(reading.t, reading.celsius, now_context);
        note_hazards(core, before, track.beside_cold_s() - beside_s);
    }
    auto const present = evidence[core].present();
    track.heard(present ? std::optional(CoreTrack::Heard{present->newest_t, present->lowest_read_c,
                                                         present->highest_read_c})
                        : std::nullopt);
}

}  // namespace ingle
