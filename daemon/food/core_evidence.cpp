#include "daemon/food/core_evidence.hpp"

#include <algorithm>
#include <cmath>
#include <utility>

#include "daemon/food/boiling.hpp"
#include "daemon/food/core_track.hpp"

namespace ingle {
namespace {

// Common practice, no source, unless something else is said. Noise and resolution of a whole-degree
// instrument, and what a core may gather over its own slope before it has moved too fast.
constexpr double noise_k = 2, surge_k = 6, slope_share = 2;
constexpr double whole_k = 105;  // from ice water to what is moist within food at its hottest
constexpr double wild_s = 10;    // a shorter excursion is a wild reading, not a moved probe
constexpr double looked_back_s = 300, spacing_s = 5;  // at the certain ones
constexpr double settle_s = 60;                       // slow for so long, and it is looked at again
constexpr double settled_k = 1, settled_k_per_s = 0.02, settled_most_k = 6;
constexpr double first_k_per_s = 0.1;  // before anything is known of the core
constexpr double near_k = 3;           // of the last level, after a move
// A joint of 10 cm drifts so fast while its probe is elsewhere; thinner food goes with the square.
constexpr double joint_drift_k_per_s = 10.0 / 3600, joint_m = 0.1;
constexpr double other_place_s = 600, other_place_k = 1;
constexpr double recognised_within_s = 3600;  // later a level alone does not show that the tip is back
constexpr double longest_run_s = 900;
constexpr double ramp_apart_s = 45, ramp_evenness = 0.5;
constexpr std::size_t ramp_readings = 3;
constexpr double hot_medium_c = 45, hot_equal_share = 0.1, room_c = 20, hot_equal_k = 2.5, cold_equal_k = 0.5;
// What a core may show above the boiling point of water: 1 degC that a food thermometer may be off (FDA Food
// Code 4-203.11(A), as in California Health and Safety Code 114159(c)), the salt of a well salted food in its
// water, and what weather does to an altitude (boiling.hpp).
constexpr double probe_error_k = 1, weather_k = 0.5;
constexpr Fraction saltiest{0.05};
constexpr double drifting_k_per_s = 0.5 / 600;
constexpr double smooth_k = 10, goes_on_share = 1.25;   // so near to boiling, or so much as before
constexpr double put_in_k = 12, put_in_within_s = 120;  // a tip follows in less; the air does not

bool equal_to_medium(double c, double medium, FoodPhase phase) {
    double const tolerance = medium <= hot_medium_c ? cold_equal_k
                             : is_heated(phase)     ? hot_equal_share * (medium - room_c)
                                                    : hot_equal_k;
    return std::abs(c - medium) <= tolerance;
}

}  // namespace

std::string_view to_word(CoreDoubt doubt) {
    switch (doubt) {
        case CoreDoubt::none:
            return "counts";
        case CoreDoubt::moved:
            return "moved";
        case CoreDoubt::at_medium:
            return "at-medium";
        case CoreDoubt::unsettled:
            return "unsettled";
        case CoreDoubt::above_boiling:
            return "above-boiling";
        case CoreDoubt::no_body:
            break;
    }
    return "no-body";
}

double hottest_core_c(double boiling_c) {
    return boiling_c + salt_elevation(saltiest).value_or(TemperatureDifference{}).kelvin + probe_error_k +
           weather_k;
}

CoreEvidence::CoreEvidence(std::optional<Length> thickness, FoodClass const* food, double boiling_c,
                           std::optional<Shape> shape)
    : hottest_(hottest_core_c(boiling_c)),
      fastest_(fastest_core(thickness, FoodPhase::cooking)),
      bounds_(thickness, shape, food ? food->least_thickness_m : least_dish_m),
      drift_(joint_drift_k_per_s),
      lag_(thickness, food) {
    bool const said = thickness && thickness->metres > 0;
    double const least = food ? food->least_thickness_m : least_dish_m;
    if (!said && least > 0) fastest_ = fastest_core(Length{least}, FoodPhase::cooking);
    fastest_ = std::min(fastest_, bounds_.rate(whole_k).value_or(fastest_));
    if (said && thickness->metres < joint_m)
        drift_ = std::min(fastest_, drift_ * (joint_m / thickness->metres) * (joint_m / thickness->metres));
}

double CoreEvidence::allowed(double apart_s, double slope) const {
    double const way = std::min(fastest_ * apart_s, surge_k + slope_share * std::abs(slope) * apart_s),
                 span = slope_span_s();
    auto const bend = bounds_.bend(whole_k);
    if (!bend || span < settle_s) return noise_k + way;
    // The slope is that of the middle of its time: it has bent since.
    return noise_k + std::min(way, std::abs(slope) * apart_s + *bend * apart_s * (span + apart_s) / 2);
}

double CoreEvidence::slope_span_s() const {
    auto const& last = pending_.empty() ? past_.back() : pending_.back();
    return last.t - (past_.empty() ? pending_.front() : past_.front()).t;
}

double CoreEvidence::slope_now() const {
    auto const& last = pending_.empty() ? past_.back() : pending_.back();
    auto const& first = past_.empty() ? pending_.front() : past_.front();
    double const span = slope_span_s();
    return span < settle_s ? 0 : (last.c - first.c) / span;
}

double CoreEvidence::run_slope() const {
    double const span = run_.back().t - run_.front().t, way = run_.back().c - run_.front().c;
    return span <= 0 ? 0 : std::copysign(std::max(0.0, std::abs(way) - settled_k), way) / span;
}

bool CoreEvidence::follows(Point const& point) const {
    if (point.c > hottest_) return false;
    double const slope = slope_now();
    auto const fits = [&](Point const& before) {
        return std::abs(point.c - before.c) <= allowed(point.t - before.t, slope);
    };
    return std::ranges::all_of(past_, fits) && std::ranges::all_of(pending_, fits);
}

void CoreEvidence::take(double t, double celsius, bool doubtful, FoodPhase phase,
                        std::optional<double> medium_c) {
    release(t - hold_s);
    around_ = medium_c;
    Point const point{t, celsius, doubtful, medium_c && equal_to_medium(celsius, *medium_c, phase), medium_c};
    if (state_ != State::following) return look_again(point, phase);
    if (!follows(point)) return suspect(point, phase);
    refuse_run(CoreDoubt::moved);
    follow(point, phase);
}

// Air that warms is no core at all. Of what cools as air does the bad is true all the same, and kept.
void CoreEvidence::follow(Point const& point, FoodPhase phase) {
    if (state_ == State::away) return refuse(point, doubt_);
    doubt_ = CoreDoubt::none;
    pending_.push_back(point);
    lag_.take(point.t, point.c);
    if (around_) lag_.beside(*around_, *around_ > hottest_);
    if (lag_.bare() && heats_core(phase) && (past_.empty() || point.c >= past_.front().c))
        find_bare(point, CoreDoubt::no_body);
}

// Not one reading of this place was the core's.
void CoreEvidence::find_bare(Point const& point, CoreDoubt why) {
    for (auto const& one : std::exchange(pending_, {})) {
        if (one.t < point.t) refuse(one, why);
    }
    refuse_run(why);
    past_.clear();
    judged_.push_back({point.t, point.c, point.doubtful, why});
    judged_.back().voids = true;
    anchor_ = Anchor{point.t, point.c, 0, point.at_medium};
    earlier_.reset();
    state_ = State::away;
    doubt_ = why;
    bare_ = true;
    put_in_ = false;
}

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

// One wild reading is not a moved probe; a second one that is as far away, or ten seconds of it, is. At one
// reading in some minutes a quick core looks like a step, but it goes on as it began.
void CoreEvidence::suspect(Point const& point, FoodPhase phase) {
    doubt_ = point.c > hottest_ ? CoreDoubt::above_boiling : CoreDoubt::moved;
    auto const& last = pending_.empty() ? past_.back() : pending_.back();
    // Without a jump, or as it went on before, it came to what no core comes to.
    double const slope = slope_now(), way = std::abs(point.c - last.c), apart = point.t - last.t;
    bool const smooth = hottest_ - last.c <= smooth_k || way <= goes_on_share * std::abs(slope) * apart;
    if (point.c > hottest_ && run_.empty() && smooth && way <= allowed(apart, slope))
        return find_bare(point, CoreDoubt::above_boiling);
    run_.push_back(point);
    if (may_be_ramp()) {
        if (run_.size() < ramp_readings) return;
        for (auto const& one : std::exchange(run_, {})) follow(one, phase);
        return;
    }
    auto const& before = pending_.empty() ? past_.back() : pending_.back();
    bool const sparse = point.t - before.t > wild_s && run_.size() > 1;
    if (point.t - run_.front().t >= wild_s || sparse) leave();
}

bool CoreEvidence::may_be_ramp() const {
    double slowest = 1e9, quickest = 0, way = 0;
    auto before = pending_.empty() ? past_.back() : pending_.back();
    for (auto const& point : run_) {
        double const apart = point.t - before.t, rate = (point.c - before.c) / apart;
        if (apart < ramp_apart_s || point.c > hottest_ || rate * way < 0) return false;
        way = rate;
        slowest = std::min(slowest, std::abs(rate));
        quickest = std::max(quickest, std::abs(rate));
        before = point;
    }
    return quickest <= fastest_ && slowest >= ramp_evenness * quickest;
}

void CoreEvidence::leave() {
    auto const& last = past_.empty() ? pending_.front() : past_.back();
    anchor_ = Anchor{last.t, last.c, 0, last.at_medium};
    if (!past_.empty() && last.t - past_.front().t >= settle_s)
        anchor_->slope = (last.c - past_.front().c) / (last.t - past_.front().t);
    // The half minute before it was seen to move is not believed either.
    path_.clear();
    auto const& left = pending_.empty() ? last : pending_.back();
    path_.take(left.t, left.c);
    for (auto const& one : run_) path_.take(one.t, one.c);
    for (auto const& one : std::exchange(pending_, {})) refuse(one, CoreDoubt::moved);
    past_.clear();
    auto const newest = run_.back();
    run_.pop_back();
    refuse_run(CoreDoubt::moved);
    run_.push_back(newest);
    state_ = State::away;
}

bool CoreEvidence::settled() const {
    return run_.size() > 1 && run_.back().t - run_.front().t >= settle_s;
}

// Before it counts: from what it read first it came further than the middle of its body could have. That the
// thickness is known then does not show that it is in one.
void CoreEvidence::watch_start(Point const& point) {
    auto const share = [&](double c) { return std::clamp(c / hottest_, 0.0, 1.0); };
    auto const most = [&](double from, Point const& then) {
        return noise_k + hottest_ * bounds_.share_after(from, point.t - then.t);
    };
    if ((lowest_ && point.c > most(share(lowest_->c), *lowest_)) ||
        (highest_ && hottest_ - point.c > most(1 - share(highest_->c), *highest_)))
        lag_.came_from_elsewhere();
    if (!lowest_ || point.c <= lowest_->c) lowest_ = point;
    if (!highest_ || point.c >= highest_->c) highest_ = point;
}

void CoreEvidence::look_again(Point const& point, FoodPhase phase) {
    if (state_ == State::starting) watch_start(point);
    if (bare_) follow_bare(point, phase);
    if (state_ == State::away) path_.take(point.t, point.c);
    if (point.c > hottest_) {
        refuse_run(CoreDoubt::moved);
        return refuse(point, CoreDoubt::above_boiling);
    }
    // After a move it must be slow for this core; at the start nothing is known of the core yet.
    bool const away = state_ == State::away;
    double const rate = away ? std::max(settled_k_per_s, 1.5 * std::abs(anchor_->slope)) : first_k_per_s;
    double const most = away ? settled_most_k : 1e9;
    auto const slow = [&](Point const& before) {
        double const apart = point.t - before.t;
        return std::abs(point.c - before.c) <= settled_k + std::min(rate * apart, most);
    };
    auto const why = bare_ ? CoreDoubt::no_body : away ? CoreDoubt::moved : CoreDoubt::unsettled;
    if (!run_.empty()) {
        auto const& middle = run_[run_.size() / 2];
        bool const same = run_.back().at_medium == point.at_medium;
        bool const fits = same && slow(run_.back()) && slow(middle);
        // One reading that noise has moved is no move; a second one is.
        bool const noisy = same && !stray_ && std::abs(point.c - middle.c) <= noise_k;
        if (!fits && !noisy) refuse_run(run_.back().at_medium ? CoreDoubt::at_medium : why);
        stray_ = !fits && noisy;
    }
    run_.push_back(point);
    if (run_.size() == 2) came_at_once_ = path_.at_once({run_[0].t, run_[0].c}, {point.t, point.c});
    if (run_.size() == 2)
        slid_ = !path_.left_at_once() && !path_.came_at_once({run_[0].t, run_[0].c}, heats_core(phase));
    doubt_ = point.at_medium ? CoreDoubt::at_medium : why;
    while (point.t - run_.front().t > longest_run_s) {
        refuse(run_.front(), run_.front().at_medium ? CoreDoubt::at_medium : why);
        run_.pop_front();
    }
    if (!settled()) return;
    if (state_ == State::starting) {
        if (!point.at_medium) accept_run(false, phase);
    } else if (bare_) {
        if (put_in_ && other_place(*anchor_, phase)) accept_run(true, phase);
    } else if (could_be(*anchor_, phase) || (earlier_ && could_be(*earlier_, phase))) {
        // Hours later nearly every level in the cold is one that the core could have come to.
        if (!heats_core(phase) && run_.back().t - anchor_->t > recognised_within_s) lag_.doubt();
        accept_run(false, phase);
    } else if (other_place(*anchor_, phase)) {
        accept_run(true, phase);
    }
}

// Near enough to where it was, given the time: it went on as before, or drifted as slowly as a joint does.
// What came there as gradually as air does is the air. What slid away and was not seen to come back is nearer
// to done only by what it would have gone.
bool CoreEvidence::could_be(Anchor const& anchor, FoodPhase phase) const {
    auto const& now = run_.back();
    if (!came_at_once_ || (now.at_medium && !anchor.at_medium)) return false;
    double const elapsed = now.t - anchor.t, moved = now.c - anchor.c;
    double const goes_on = anchor.slope * moved > 0 ? std::clamp(run_slope() / anchor.slope, 0.0, 1.0) : 0;
    double const way = anchor.slope * goes_on * elapsed;
    if (slid_ && (moved - way) * (heats_core(phase) ? 1 : -1) > near_k) return false;
    return std::abs(moved) <= near_k + drift_ * elapsed + 1.5 * std::abs(way);
}

// Pushed to a place that is further from done, which moves as food does: that is the core, and what was read
// before was not. (A place that is nearer to done is no core: it may be the air or the liquid.)
bool CoreEvidence::other_place(Anchor const& anchor, FoodPhase phase) const {
    auto const &now = run_.back(), &first = run_.front();
    // What came within the last minute may be that it is just being moved again.
    auto const before =
        std::find_if(run_.rbegin(), run_.rend(), [&](Point const& one) { return now.t - one.t >= settle_s; });
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
    bare_ = put_in_ = false;
    if (new_place) lag_.begin_again();
    // A tip takes a while to come to where it is: what came first still had some way to go.
    double const from = moved ? run_.back().t - hold_s : run_.front().t;
    for (; run_.front().t < from; run_.pop_front()) refuse(run_.front(), CoreDoubt::moved);
    for (auto const& one : std::exchange(run_, {})) follow(one, phase);
    if (!pending_.empty()) release(pending_.back().t - hold_s);
}

void CoreEvidence::release(double until) {
    if (state_ != State::following || !run_.empty()) return;
    while (!pending_.empty() && pending_.front().t <= until + 1e-6) {
        auto const point = pending_.front();
        pending_.pop_front();
        judged_.push_back({point.t, point.c, point.doubtful, CoreDoubt::none, break_next_, new_place_next_});
        places_ += new_place_next_;
        break_next_ = new_place_next_ = false;
        // The newest moves along until it is a spacing away from the one before it.
        if (past_.size() > 1 && point.t - past_[past_.size() - 2].t < spacing_s) past_.pop_back();
        past_.push_back(point);
        while (past_.size() > 1 && point.t - past_.front().t > looked_back_s) past_.pop_front();
    }
}

void CoreEvidence::refuse(Point const& point, CoreDoubt why) {
    judged_.push_back({point.t, point.c, point.doubtful, why});
    judged_.back().medium = point.medium;
}

void CoreEvidence::refuse_run(CoreDoubt why) {
    for (auto const& one : run_) refuse(one, one.c > hottest_ ? CoreDoubt::above_boiling : why);
    run_.clear();
}

void CoreEvidence::advance(double t) {
    release(t - hold_s);
}

std::vector<JudgedReading> CoreEvidence::take_judged() {
    return std::exchange(judged_, {});
}

std::optional<CoreEvidence::Present> CoreEvidence::present() const {
    if (state_ != State::following || past_.empty()) return std::nullopt;  // nothing is certain yet
    Present now;
    auto const& certain = past_.back();
    now.certain_t = now.newest_t = certain.t;
    now.certain_c = now.newest_c = now.lowest_c = now.highest_c = certain.c;
    now.doubtful = certain.doubtful;
    now.places = places_;
    for (auto const& one : pending_) {
        now.newest_t = one.t;
        now.newest_c = one.c;
        now.lowest_c = std::min(now.lowest_c, one.c);
        now.highest_c = std::max(now.highest_c, one.c);
        now.doubtful = now.doubtful || one.doubtful;
    }
    return now;
}

}  // namespace ingle
