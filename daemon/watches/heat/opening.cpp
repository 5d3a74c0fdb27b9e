#include "daemon/watches/heat/opening.hpp"

#include <algorithm>

namespace ingle {
namespace {

// An opened door costs a chamber several percent of its height above the room within seconds; a fire that
// goes out takes minutes for the same. Our own judgement, held against the scenario bench.
constexpr int within_s = 15;
constexpr double least_drop_k = 5, least_share = 0.06;
constexpr Span stuck_after = std::chrono::minutes(5);    // no way back by then: not an ordinary opening
constexpr Span silence_most = std::chrono::minutes(20);  // E3: 10 to 20 min are normal for the way back
constexpr Span afterwards = std::chrono::minutes(15);    // the walls are still colder when the air is back
constexpr double back_share = 0.75;                      // of the depth regained: it is over

}  // namespace

bool Opening::silences(Instant now) const {
    bool const coming_back =
        state_ == State::open || state_ == State::recovering || (last_end_ && now - *last_end_ < afterwards);
    return coming_back && now - opened_ < silence_most;
}

Opening::Change Opening::finish(Instant now) {
    Change change;
    change.closed = true;
    change.depth_k = before_ - bottom_;
    change.length = bottom_at_ - opened_;
    change.recovery = now - bottom_at_;
    state_ = State::none;
    last_end_ = now;
    past_.clear();
    return change;
}

Opening::Change Opening::step(Instant now, std::optional<double> celsius, double room) {
    past_.put(celsius);
    if (by_switch_) return {};
    auto const value = past_.mean(2, 0);
    if (!value) return {};
    if (state_ == State::none) {
        auto const then = past_.mean(within_s + 4, within_s);
        if (!then) return {};
        double const drop = *then - *value;
        if (drop < std::max(least_drop_k, least_share * (*then - room))) return {};
        state_ = State::open;
        opened_ = now - std::chrono::seconds(within_s / 2);
        before_ = past_.mean(60, within_s).value_or(*then);
        bottom_ = *value;
        bottom_at_ = now;
        last_end_.reset();
        return {.opened = true, .depth_k = before_ - bottom_, .length = {}, .recovery = {}};
    }
    if (*value < bottom_) {
        bottom_ = *value;
        bottom_at_ = now;
    }
    double const depth = before_ - bottom_;
    double const regained = depth > 0 ? (*value - bottom_) / depth : 1;
    // Back, or settled a little lower: cold food went in, or the walls gave their heat away.
    if (regained > back_share) return finish(now);
    auto const minute_ago = past_.mean(62, 58);
    bool const rising = minute_ago && *value - *minute_ago > std::max(0.3, 0.01 * depth);
    if (state_ == State::open && (regained > 0.2 || (rising && regained > 0.1))) state_ = State::recovering;
    if (state_ != State::stuck && now - opened_ > stuck_after && !rising && regained < 0.5)
        state_ = State::stuck;
    if (state_ == State::stuck && rising && regained > 0.2) state_ = State::recovering;
    // Half of it came back and it stands: that is the new level.
    if (state_ == State::recovering && now - opened_ > silence_most && !rising && regained >= 0.5)
        return finish(now);
    return {};
}

Opening::Change Opening::step_switch(Instant now, bool open, std::optional<double> celsius) {
    by_switch_ = true;
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

}  // namespace ingle
