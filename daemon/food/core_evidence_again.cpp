// Which readings count again: at the begin, and after the tip was moved or not read for long.
#include <algorithm>
#include <cmath>
#include <utility>

#include "daemon/food/core_evidence.hpp"
#include "daemon/food/core_evidence_limits.hpp"

namespace ingle {
namespace {

constexpr double settled_k_per_s = 0.02, settled_most_k = 6;
constexpr double first_k_per_s = 0.1;  // before anything is known of the core
constexpr double other_place_s = 600, other_place_k = 1;
constexpr double recognised_within_s = 3600;  // later a level alone does not show that the tip is back
constexpr double longest_run_s = 900, longest_after_unseen_s = 3600;
constexpr double drifting_k_per_s = 0.5 / 600;
constexpr double put_in_k = 12, put_in_within_s = 120;  // a tip follows in less; the air does not

}  // namespace

// Pushed into the food it leaves the level of the air at once; the air itself does not.
void CoreEvidence::follow_bare(Point const& point, FoodPhase phase) {
    double const way = heats_core(phase) ? 1 : -1, left = way * (anchor_->c - point.c);
    if (left >= put_in_k) put_in_ = true;
    if (left <= 0) put_in_ = false;
    if (!put_in_ && (left <= 0 || point.t - anchor_->t >= put_in_within_s)) {
        anchor_->t = point.t;
        anchor_->c = point.c;
    }
}

bool CoreEvidence::settled() const {
    return run_.size() > 1 && run_.back().t - run_.front().t >= core_settle_s;
}

// Before it counts: from what it read first it came further than the middle of its body could have. That the
// thickness is known then does not show that it is in one.
void CoreEvidence::watch_start(Point const& point) {
    auto const share = [&](double c) { return std::clamp(c / hottest_, 0.0, 1.0); };
    auto const most = [&](double from, Point const& then) {
        return core_noise_k + hottest_ * bounds_.share_after(from, point.t - then.t);
    };
    if ((lowest_ && point.c > most(share(lowest_->c), *lowest_)) ||
        (highest_ && hottest_ - point.c > most(1 - share(highest_->c), *highest_)))
        lag_.came_from_elsewhere();
    if (!lowest_ || point.c <= lowest_->c) lowest_ = point;
    if (!highest_ || point.c >= highest_->c) highest_ = point;
}

// What it has read since it stands is worth nothing, and nobody knows what the food did.
bool CoreEvidence::find_stuck(Point const& point) {
    auto const since = stand_.stuck(boiling_);
    if (!since) return false;
    for (auto const& one : std::exchange(pending_, {})) {
        if (one.t < point.t) refuse(one, CoreDoubt::stuck);
    }
    refuse_run(CoreDoubt::moved);
    past_.clear();
    judged_.push_back({point.t, point.c, point.doubtful, CoreDoubt::stuck});
    judged_.back().back_to = since;
    anchor_ = Anchor{*since, point.c, 0, point.at_medium};
    earlier_.reset();
    slide_.clear();
    stand_.clear();
    path_.clear();
    path_.take(point.t, point.c);
    state_ = State::away;
    doubt_ = CoreDoubt::stuck;
    stuck_ = true;
    return true;
}

// Once it moves again it is looked at as after any time that was not read.
bool CoreEvidence::still_stuck(Point const& point, FoodPhase phase) {
    if (std::abs(point.c - anchor_->c) < same_reading_k) {
        refuse(point, CoreDoubt::stuck);
        doubt_ = CoreDoubt::stuck;
        return true;
    }
    stuck_ = false;
    if (heats_core(phase)) {
        unseen_ = true;
    } else {
        anchor_.reset();
        lowest_.reset();
        highest_.reset();
        state_ = State::starting;
        break_next_ = true;
    }
    return false;
}

// Before anything counted: what came far nearer to done while nobody looked was not seen to come there.
void CoreEvidence::begin_after_hole(Point const& point, FoodPhase phase) {
    auto const last = run_.back();
    if (last.at_medium || point.c - last.c <= core_near_k || !credits(point.c, phase)) return;
    refuse_run(CoreDoubt::unsettled);
    anchor_ = Anchor{last.t, last.c, 0, false};
    path_.clear();
    path_.take(last.t, last.c);
    state_ = State::away;
    unseen_ = true;
}

void CoreEvidence::look_again(Point const& point, FoodPhase phase) {
    if (stuck_ && still_stuck(point, phase)) return;
    if (state_ == State::starting && !run_.empty() && point.t - run_.back().t > unseen_s)
        begin_after_hole(point, phase);
    if (state_ == State::starting) watch_start(point);
    if (bare_) follow_bare(point, phase);
    if (state_ == State::away) path_.take(point.t, point.c);
    if (point.c > hottest_) {
        refuse_run(CoreDoubt::moved);
        return refuse(point, CoreDoubt::above_boiling);
    }
    // After a move it must be slow for this core; at the start nothing is known of the core yet.
    bool const away = state_ == State::away;
    bool const known = away && !unseen_;
    double const rate =
        known ? std::max(settled_k_per_s, core_quicker_share * std::abs(anchor_->slope)) : first_k_per_s;
    double const most = known ? settled_most_k : 1e9;
    auto const slow = [&](Point const& before) {
        double const apart = point.t - before.t;
        return std::abs(point.c - before.c) <= core_settled_k + std::min(rate * apart, most);
    };
    auto const why = bare_ ? CoreDoubt::no_body : away ? CoreDoubt::moved : CoreDoubt::unsettled;
    if (!run_.empty()) {
        auto const& middle = run_[run_.size() / 2];
        bool const same = run_.back().at_medium == point.at_medium;
        bool const fits = same && slow(run_.back()) && slow(middle);
        // One reading that noise has moved is no move; a second one is.
        bool const noisy = same && !stray_ && std::abs(point.c - middle.c) <= core_noise_k;
        if (!fits && !noisy) refuse_run(run_.back().at_medium ? CoreDoubt::at_medium : why);
        stray_ = !fits && noisy;
    }
    run_.push_back(point);
    if (run_.size() == 2) see_return(heats_core(phase));
    doubt_ = point.at_medium ? CoreDoubt::at_medium : why;
    while (point.t - run_.front().t > (unseen_ ? longest_after_unseen_s : longest_run_s)) {
        refuse(run_.front(), run_.front().at_medium ? CoreDoubt::at_medium : why);
        run_.pop_front();
    }
    if (!settled()) return;
    if (state_ == State::starting) {
        if (!point.at_medium) accept_run(false, phase);
    } else if (bare_) {
        if (put_in_ && other_place(*anchor_, phase)) accept_run(true, phase);
    } else if (could_be(*anchor_, phase) || (earlier_ && !unseen_ && could_be(*earlier_, phase))) {
        // Hours later nearly every level in the cold is one that the core could have come to.
        if (!heats_core(phase) && run_.back().t - anchor_->t > recognised_within_s) lag_.doubt();
        accept_run(false, phase);
    } else if (other_place(*anchor_, phase)) {
        accept_run(true, phase);
    }
}

// How the run began.
void CoreEvidence::see_return(bool heated) {
    ReturnPath::Reading const first{run_[0].t, run_[0].c}, second{run_[1].t, run_[1].c};
    came_at_once_ = path_.at_once(first, second);
    slid_ = (slid_out_ || !path_.left_at_once()) && !path_.came_at_once(first, heated);
}

// Near enough to where it was, given the time: it went on as before, or drifted as slowly as a joint does.
// What came there as gradually as air does is the air. What slid away and was not seen to come back is nearer
// to done only by what it would have gone.
bool CoreEvidence::could_be(Anchor const& anchor, FoodPhase phase) const {
    auto const& now = run_.back();
    if (!came_at_once_ || (now.at_medium && !anchor.at_medium)) return false;
    // What stands where it is has not gone on since it came there.
    double const elapsed = std::min(now.t, path_.since(now.c, core_near_k).value_or(now.t)) - anchor.t;
    double const moved = now.c - anchor.c;
    if (unseen_) return goes_as_it_came(anchor);
    double const goes_on = anchor.slope * moved > 0 ? std::clamp(run_slope() / anchor.slope, 0.0, 1.0) : 0;
    double const way = anchor.slope * goes_on * elapsed;
    if (slid_ && (moved - way) * (heats_core(phase) ? 1 : -1) > core_near_k) return false;
    return std::abs(moved) <= core_near_k + drift_ * elapsed + core_quicker_share * std::abs(way);
}

// What came far while nobody looked, and stands still or goes on slowly, was not seen to come: it may lie in
// the liquid. It must go as fast as it came, before or after, but for a half.
bool CoreEvidence::goes_as_it_came(Anchor const& anchor) const {
    auto const& first = run_.front();
    double const rate = std::max({0.0, run_slope(), anchor.slope});
    return first.c - anchor.c <= core_near_k + core_quicker_share * rate * (first.t - anchor.t);
}

// Pushed to a place that is further from done, which moves as food does: that is the core, and what was read
// before was not. (A place that is nearer to done is no core: it may be the air or the liquid.)
bool CoreEvidence::other_place(Anchor const& anchor, FoodPhase phase) const {
    auto const &now = run_.back(), &first = run_.front();
    // What came within the last minute may be that it is just being moved again.
    auto const before = std::find_if(run_.rbegin(), run_.rend(),
                                     [&](Point const& one) { return now.t - one.t >= core_settle_s; });
    if (now.at_medium || before == run_.rend() || now.t - first.t < other_place_s) return false;
    double const way = heats_core(phase) ? 1 : -1;
    return way * (now.c - anchor.c) < 0 && way * (before->c - first.c) >= other_place_k;
}

void CoreEvidence::accept_run(bool new_place, FoodPhase phase) {
    bool const moved = state_ == State::away;
    break_next_ = break_next_ || moved;
    new_place_next_ = new_place_next_ || new_place;
    if (new_place)
        earlier_ = anchor_ && std::abs(anchor_->slope) >= drifting_k_per_s ? anchor_ : std::nullopt;
    anchor_.reset();
    state_ = State::following;
    bare_ = put_in_ = unseen_ = slid_out_ = stuck_ = false;
    // Where it lies now it was at rest before it moved: its lag shows from there on.
    if (new_place) {
        lag_.begin_again();
        for (auto const& one : run_) lag_.take(one.t, one.c);
    }
    // A tip takes a while to come to where it is: what came first still had some way to go.
    double const from = moved ? run_.back().t - hold_s : run_.front().t;
    for (; run_.front().t < from; run_.pop_front()) refuse(run_.front(), CoreDoubt::moved);
    for (auto const& one : std::exchange(run_, {})) follow(one, phase);
    if (!pending_.empty()) release(pending_.back().t - hold_s);
}

}  // namespace ingle
