#include "daemon/food/core_evidence.hpp"

#include <algorithm>
#include <cmath>
#include <utility>

#include "daemon/food/boiling.hpp"
#include "daemon/food/core_evidence_limits.hpp"
#include "daemon/food/core_track.hpp"

namespace ingle {
namespace {

// Common practice, no source, unless something else is said. What a core may gather over its own slope before
// it has moved too fast.
constexpr double surge_k = 6, slope_share = 2;
constexpr double whole_k = 105;  // from ice water to what is moist within food at its hottest
constexpr double wild_s = 10;    // a shorter excursion is a wild reading, not a moved probe
constexpr double looked_back_s = 300, spacing_s = 5;  // at the certain ones
// A joint of 10 cm drifts so fast while its probe is elsewhere; thinner food goes with the square.
constexpr double joint_drift_k_per_s = 10.0 / 3600, joint_m = 0.1;
constexpr double ramp_apart_s = 45, ramp_evenness = 0.5, came_back_share = 0.5;
constexpr std::size_t ramp_readings = 3;
constexpr double hot_medium_c = 45, hot_equal_share = 0.1, room_c = 20, hot_equal_k = 2.5, cold_equal_k = 0.5;
// What a core may show above the boiling point of water: 1 degC that a food thermometer may be off (FDA Food
// Code 4-203.11(A), as in California Health and Safety Code 114159(c)), the salt of a well salted food in its
// water, and what weather does to an altitude (boiling.hpp).
constexpr double probe_error_k = 1, weather_k = 0.5;
constexpr Fraction saltiest{0.05};
constexpr double seldom_s = 10, unborne_k = 5;         // so far from where it was going
constexpr double ice_water_c = 0;                      // that food is chilled in
constexpr double smooth_k = 10, goes_on_share = 1.25;  // so near to boiling, or so much as before

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
        case CoreDoubt::stuck:
            return "stuck";
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
      boiling_(boiling_c),
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
    if (!bend || span < core_settle_s) return core_noise_k + way;
    // The slope is that of the middle of its time: it has bent since.
    return core_noise_k + std::min(way, std::abs(slope) * apart_s + *bend * apart_s * (span + apart_s) / 2);
}

double CoreEvidence::slope_span_s() const {
    auto const& last = pending_.empty() ? past_.back() : pending_.back();
    return last.t - (past_.empty() ? pending_.front() : past_.front()).t;
}

double CoreEvidence::slope_now() const {
    auto const& last = pending_.empty() ? past_.back() : pending_.back();
    auto const& first = past_.empty() ? pending_.front() : past_.front();
    double const span = slope_span_s();
    return span < core_settle_s ? 0 : (last.c - first.c) / span;
}

double CoreEvidence::run_slope() const {
    double const span = run_.back().t - run_.front().t, way = run_.back().c - run_.front().c;
    return span <= 0 ? 0 : std::copysign(std::max(0.0, std::abs(way) - core_settled_k), way) / span;
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
    heated_ = heats_core(phase);
    cooled_ = !heated_ && (phase == FoodPhase::chilling || is_held_cold(phase));
    release(t - hold_s);
    around_ = medium_c;
    Point const point{t, celsius, doubtful, medium_c && equal_to_medium(celsius, *medium_c, phase), medium_c};
    if (state_ != State::following) return look_again(point, phase);
    drop_leap(point);
    if (came_unseen(point, phase)) return leave_unseen(point);
    if (!follows(point) || stays_away(point)) return suspect(point, phase);
    refuse_run(CoreDoubt::moved);
    follow(point, phase);
}

// At a slow rhythm: where the suspected one before it was, so that that was no wild one, and time alone does
// not make a core's way of the step.
bool CoreEvidence::stays_away(Point const& point) const {
    if (run_.empty()) return false;
    auto const& last = pending_.empty() ? past_.back() : pending_.back();
    double const away = run_.back().c - last.c;
    return run_.back().t - last.t >= ramp_apart_s && (point.c - last.c) / away >= came_back_share;
}

double CoreEvidence::interval_s() const {  // between the newest two that count
    auto const newest = pending_.rbegin(), oldest = pending_.rend();
    if (newest == oldest) return past_.size() > 1 ? past_.back().t - past_[past_.size() - 2].t : 0;
    auto const before = std::next(newest);
    return newest->t - (before != oldest ? before->t : past_.empty() ? newest->t : past_.back().t);
}

// Nearer to done by more than it would have gone, while nobody looked. (What warms in the cold is bad, and
// told at once.)
bool CoreEvidence::came_unseen(Point const& point, FoodPhase phase) const {
    if (!credits(point.c, phase)) return false;
    auto const& last = pending_.empty() ? past_.back() : pending_.back();
    double const apart = point.t - last.t, slope = std::max(0.0, slope_now());
    bool const seen = point.t - (run_.empty() ? last : run_.back()).t <=
                      std::max(unseen_s, core_quicker_share * interval_s());
    return !seen && point.c - last.c > core_near_k + core_quicker_share * slope * apart;
}

void CoreEvidence::leave_unseen(Point const& point) {
    run_.push_back(point);
    leave();
    doubt_ = CoreDoubt::moved;
    unseen_ = true;
}

// Air that warms is no core at all. Of what cools as air does the bad is true all the same, and kept.
void CoreEvidence::follow(Point const& point, FoodPhase phase) {
    if (state_ == State::away) return refuse(point, doubt_);
    doubt_ = CoreDoubt::none;
    pending_.push_back(point);
    stand_.take(point.t, point.c, around_, phase);
    if (find_stuck(point) || find_slide(point, phase)) return;
    lag_.take(point.t, point.c);
    if (around_) lag_.beside(*around_, *around_ > hottest_);
    if (lag_.bare() && heats_core(phase) && (past_.empty() || point.c >= past_.front().c))
        find_bare(point, CoreDoubt::no_body);
}

// What was read since it slid is credited already: all of it is void.
bool CoreEvidence::find_slide(Point const& point, FoodPhase phase) {
    slide_.take(point.t, point.c, around_ ? std::min(ice_water_c, *around_) : freezer_c, around_);
    auto slide = slide_.outran(bounds_, is_heated(phase) ? std::optional(hottest_) : std::nullopt);
    if (!slide && !is_held_cold(phase)) slide = slide_.seen(bounds_, phase != FoodPhase::chilling);
    if (!slide && is_heated(phase)) slide = slide_.regained(hottest_);
    if (!slide) return false;
    find_bare(point, CoreDoubt::moved);
    bare_ = false;
    slid_out_ = true;
    anchor_ = Anchor{slide->t, slide->c, slide->slope, point.at_medium};
    path_.clear();
    path_.take(slide->t, slide->c);
    path_.take(point.t, point.c);
    return true;
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
    slide_.clear();
    stand_.clear();
    state_ = State::away;
    doubt_ = why;
    bare_ = true;
    put_in_ = false;
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
    if (!past_.empty() && last.t - past_.front().t >= core_settle_s)
        anchor_->slope = (last.c - past_.front().c) / (last.t - past_.front().t);
    // The half minute before it was seen to move is not believed either.
    path_.clear();
    stand_.clear();
    auto const& left = pending_.empty() ? last : pending_.back();
    path_.take(left.t, left.c);
    for (auto const& one : run_) path_.take(one.t, one.c);
    for (auto const& one : std::exchange(pending_, {})) refuse(one, CoreDoubt::moved);
    past_.clear();
    slide_.clear();
    auto const newest = run_.back();
    run_.pop_back();
    refuse_run(CoreDoubt::moved);
    run_.push_back(newest);
    state_ = State::away;
}

void CoreEvidence::release(double until) {
    if (state_ != State::following || !run_.empty()) return;
    while (!pending_.empty() && pending_.front().t <= until + 1e-6) {
        auto const point = pending_.front();
        if (alone_after_a_hole()) return;
        pending_.pop_front();
        judged_.push_back({point.t, point.c, point.doubtful, CoreDoubt::none, break_next_, new_place_next_});
        places_ += new_place_next_;
        break_next_ = new_place_next_ = false;
        // The newest moves along until it is a spacing away from the one before it.
        if (past_.size() > 1 && point.t - past_[past_.size() - 2].t < spacing_s) past_.pop_back();
        past_.push_back(point);
        // Two have a slope, however seldom it is read.
        while (past_.size() > 2 && point.t - past_.front().t > looked_back_s) past_.pop_front();
    }
}

// K nearer to what is waited for; where the food rests, it may be its target or its cooling.
double CoreEvidence::better_by(Point const& from, Point const& to) const {
    double const up = to.c - from.c;
    return heated_ ? up : cooled_ ? -up : std::abs(up);
}

// What came first after a time without readings and is much better than what was before: the next one must
// bear it out. What is worse is told at once.
bool CoreEvidence::alone_after_a_hole() const {
    if (past_.empty()) return false;
    auto const &last = past_.back(), &first = pending_.front();
    double const nearer = better_by(last, first);
    if (first.t - last.t > unseen_s) return pending_.size() == 1 && nearer > core_near_k;
    return leapt() && !borne_out();
}

// It goes on as a body does, that slows down no faster than it relaxes; or a third reading stays there.
bool CoreEvidence::borne_out() const {
    if (pending_.size() < 2) return false;
    auto const &first = pending_[0], &second = pending_[1];
    double const way = first.c - past_.back().c, further = (second.c - first.c) * (way > 0 ? 1 : -1);
    double const least = (1 - bounds_.relaxed(second.t - first.t)) * std::abs(way) - core_noise_k;
    return pending_.size() > 2 || further >= least;
}

// Seldom as it is read, what came by a leap may be where the tip lies for a moment.
bool CoreEvidence::leapt() const {
    if (past_.empty() || pending_.empty()) return false;
    auto const &last = past_.back(), &first = pending_.front();
    double const apart = first.t - last.t, nearer = better_by(last, first);
    double const span = last.t - past_.front().t;
    double const goes_on = span > 0 ? std::abs(last.c - past_.front().c) / span * apart : 0;
    return seldom_s <= apart && apart <= unseen_s && nearer > goes_on + unborne_k;
}

// It leapt, and goes back: the leap was no core's.
void CoreEvidence::drop_leap(Point const& point) {
    if (!leapt() || borne_out()) return;
    auto const &last = past_.back(), &first = pending_.front();
    if ((point.c - last.c) / (first.c - last.c) >= came_back_share) return;
    for (auto const& one : std::exchange(pending_, {})) refuse(one, CoreDoubt::moved);
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
    now.lowest_read_c = now.lowest_c;
    now.highest_read_c = now.highest_c;
    for (auto const& one : run_) {
        now.lowest_read_c = std::min(now.lowest_read_c, one.c);
        now.highest_read_c = std::max(now.highest_read_c, one.c);
    }
    return now;
}

}  // namespace ingle
