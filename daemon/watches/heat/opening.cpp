#include "daemon/watches/heat/opening.hpp"

#include <algorithm>
#include <cmath>

namespace ingle {
namespace {

constexpr Span stuck_after = std::chrono::minutes(5);    // no way back by then: not an ordinary opening
constexpr Span silence_most = std::chrono::minutes(20);  // E3: 10 to 20 min are normal for the way back
constexpr Span afterwards = std::chrono::minutes(15);    // the walls are still colder when the air is back
constexpr double steps = 2;                              // of its resolution: one alone says nothing
constexpr double back_share = 0.75;                      // of the depth regained: it is over
constexpr double again_share = 0.3;  // of the depth regained, and it falls again: opened again
constexpr double unrests = 4.7;      // a fall that a probe of this unrest does not show in months
constexpr int unrest_memory_s = 1800, unrest_known_s = 120;
constexpr double clip = 2;  // times what is usual: an opening must not pass for unrest

}  // namespace

// An opened door costs a chamber several percent of its height above the room within seconds; a fire that
// goes out takes minutes for the same. A fridge's air warms by a degree in half a minute, without its
// compressor by a third of a degree in a minute. Our own judgement, held against the scenario bench.
Opening::Opening(VesselKind kind)
    : manner_(is_cold(kind) ? Manner{30, 0.8, 0.03, 0.03, std::chrono::hours(3)}
                            : Manner{15, 5, 0.06, 0.3, std::chrono::hours(6)}),
      sign_(is_cold(kind) ? -1 : 1) {}

bool Opening::silences(Instant now) const {
    if (sign_ < 0) return false;  // a fridge's alarm waits longer than its door does
    bool const coming_back =
        state_ == State::open || state_ == State::recovering || (last_end_ && now - *last_end_ < afterwards);
    return coming_back && now - opened_ < silence_most;
}

void Opening::forget() {
    state_ = State::none;
    last_end_.reset();
    past_.clear();
}

Opening::Change Opening::finish(Instant now) {
    Change change;
    change.closed = true;
    change.depth_k = before_ - bottom_;
    change.steepest_k = steepest_;
    change.length = bottom_at_ - opened_;
    change.recovery = now - bottom_at_;
    state_ = State::none;
    last_end_ = now;
    past_.clear();
    return change;
}

std::optional<double> Opening::drop_to(double value, double room, double step) const {
    auto const then = past_.mean(manner_.within_s + 4, manner_.within_s);
    if (!then) return std::nullopt;
    double const drop = *then - value;
    double const unrest = unrest_s_ > unrest_known_s ? unrests * unrest_ : 0;
    if (drop < std::max({manner_.least_k, manner_.share * std::abs(*then - room), steps * step, unrest}))
        return std::nullopt;
    return drop;
}

void Opening::learn_unrest() {
    int const w = std::min(manner_.within_s, 28);  // of a past of a minute
    auto const newest = past_.mean(4, 0), then = past_.mean(w + 4, w), before = past_.mean(2 * w + 4, 2 * w);
    if (!newest || !then || !before) return;
    // Of independent moves the difference of two has twice the variance.
    double const bend = std::abs((*newest - *then) - (*then - *before)) / std::sqrt(2.0);
    unrest_s_ = std::min(unrest_s_ + 1, unrest_memory_s);
    double const known = unrest_s_ > unrest_known_s ? clip * unrest_ : bend;
    double const limited = std::min(bend, known);
    unrest_ = std::sqrt(unrest_ * unrest_ + (limited * limited - unrest_ * unrest_) / unrest_s_);
}

Opening::Change Opening::step(Instant now, std::optional<double> celsius, double room, double step) {
    if (celsius) *celsius *= sign_;
    room *= sign_;
    past_.put(celsius);
    if (by_switch_) return {};
    auto const value = past_.mean(2, 0);
    if (!value) return {};
    Change change;
    if (state_ == State::none) learn_unrest();
    auto const drop =
        state_ == State::none || state_ == State::recovering ? drop_to(*value, room, step) : std::nullopt;
    // What it is held against must have been read on the way back, or the same fall would count twice.
    bool const since_bottom = now - bottom_at_ >= std::chrono::seconds(manner_.within_s + 4);
    if (drop && state_ == State::recovering && since_bottom &&
        *value + *drop - bottom_ > again_share * (before_ - bottom_)) {
        change = finish(now);  // opened again before it was back
        change.recovery = {};
    }
    if (state_ == State::none) {
        if (!drop) return {};
        change.opened = true;
        state_ = State::open;
        opened_ = now - std::chrono::seconds(manner_.within_s / 2);
        before_ = change.closed ? *value + *drop : past_.mean(60, manner_.within_s).value_or(*value + *drop);
        bottom_ = *value;
        bottom_at_ = now;
        steepest_ = *drop;
        last_end_.reset();
        return change;
    }
    if (auto const then = past_.mean(manner_.within_s + 4, manner_.within_s))
        steepest_ = std::max(steepest_, *then - *value);
    if (*value < bottom_) {
        bottom_ = *value;
        bottom_at_ = now;
    }
    double const depth = before_ - bottom_;
    double const regained = depth > 0 ? (*value - bottom_) / depth : 1;
    // Back, or settled a little lower: cold food went in, or the walls gave their heat away.
    if (regained > back_share) return finish(now);
    auto const minute_ago = past_.mean(62, 58);
    bool const rising = minute_ago && *value - *minute_ago > std::max(manner_.rising_k, 0.01 * depth);
    if (state_ == State::open && (regained > 0.2 || (rising && regained > 0.1))) state_ = State::recovering;
    bool const still = minute_ago && !rising;  // without a minute's past it cannot be said
    if (state_ != State::stuck && now - opened_ > stuck_after && still && regained < 0.5)
        state_ = State::stuck;
    if (state_ == State::stuck && rising && regained > 0.2) state_ = State::recovering;
    // Half of it came back and it stands: that is the new level.
    if (state_ == State::recovering && now - opened_ > silence_most && still && regained >= 0.5)
        return finish(now);
    if (now - opened_ > manner_.longest) forget();
    return {};
}

Opening::Change Opening::step_switch(Instant now, bool open, std::optional<double> celsius) {
    by_switch_ = true;
    if (celsius) *celsius *= sign_;
    double const value = celsius.value_or(before_);
    if (open && state_ == State::none) {
        state_ = State::open;
        opened_ = bottom_at_ = now;
        before_ = bottom_ = value;
        last_end_.reset();
        return {.opened = true, .depth_k = 0, .length = {}, .recovery = {}};
    }
    if (state_ == State::none) return {};
    if (celsius && value < bottom_) {
        bottom_ = value;
        bottom_at_ = now;
    }
    if (open) {
        state_ = now - opened_ > stuck_after ? State::stuck : State::open;
        return {};
    }
    auto change = finish(now);
    change.length = now - opened_;
    change.recovery = {};
    return change;
}

void Opening::remember(Memory& memory, std::string const& prefix) const {
    if (last_end_) memory.put(prefix + "ended", *last_end_);
    memory.put(prefix + "unrest", unrest_);
    memory.put(prefix + "unrest-s", std::int64_t{unrest_s_});
    memory.put(prefix + "steepest", steepest_);
    memory.put(prefix + "past", past_.text(1));
    if (state_ == State::none && !last_end_) return;
    memory.put(prefix + "state", static_cast<std::int64_t>(state_));
    memory.put(prefix + "opened", opened_);
    memory.put(prefix + "bottom-at", bottom_at_);
    memory.put(prefix + "before", before_);
    memory.put(prefix + "bottom", bottom_);
}

void Opening::recall(Memory const& memory, std::string const& prefix) {
    unrest_ = std::max(0.0, memory.number(prefix + "unrest").value_or(0));
    unrest_s_ = static_cast<int>(
        std::clamp<std::int64_t>(memory.integer(prefix + "unrest-s").value_or(0), 0, unrest_memory_s));
    steepest_ = memory.number(prefix + "steepest").value_or(0);
    past_.read(memory.text(prefix + "past").value_or(""));
    auto const state = memory.integer(prefix + "state");
    auto const opened = memory.instant(prefix + "opened"), bottom_at = memory.instant(prefix + "bottom-at");
    auto const before = memory.number(prefix + "before"), bottom = memory.number(prefix + "bottom");
    if (!state || *state < 0 || *state > static_cast<std::int64_t>(State::stuck)) return;
    if (!opened || !bottom_at || !before || !bottom) return;
    state_ = static_cast<State>(*state);
    opened_ = *opened;
    bottom_at_ = *bottom_at;
    before_ = *before;
    bottom_ = *bottom;
    last_end_ = memory.instant(prefix + "ended");
}

}  // namespace ingle
