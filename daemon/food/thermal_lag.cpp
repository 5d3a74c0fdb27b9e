#include "daemon/food/thermal_lag.hpp"

#include <algorithm>
#include <array>
#include <cmath>

#include "daemon/food/food_properties.hpp"

namespace ingle {
namespace {

// By the series of daemon/forecast/conduction for slabs, cylinders and spheres of 5 to 14 cm in air of 93 to
// 220 degC (h 18 to 34 W/(m2 K)) and in liquid of 85 to 98 degC, of the first 18 K: the mean of what was done
// of the rise is 0.39 to 0.46 of it, and it takes 0.045 R^2/a or more. Air that warms exponentially has 0.51
// to 0.58. Few readings show the bend less well.
constexpr double convex_share = 0.46, coarse_share = 0.485, least_share = 0.34;
// Air over a fire that takes a minute to burn well comes as late as a quick body, for the first 18 K: of it,
// and of bodies of 5 cm, at 24 K.
constexpr double quick_share = 0.45, quick_s = 400;
// A way without a bend is no air's: what heats it keeps pace with it, as a recording in straight lines does.
// Air that a fire moves, bent one way at first and then the other, may have the area of a straight line.
constexpr double straight_share = 0.5, straight_within = 0.004, straight_within_k = 0.16;
constexpr std::size_t fine_readings = 6, least_readings = 3;
constexpr double quickest_fourier = 0.045;
constexpr double noise_k = 1, rest_k = 1.5, rest_s = 600, armed_s = 540, spacing_s = 15;
constexpr double level_s = 60;
// Minutes apart, the first reading after rest may have had any part of the interval.
constexpr double sparse_s = 180, sparse_noise_k = 2;
constexpr double telling_k = 18, certain_k = 24;
// What is warm already has less of its way left: it must be told sooner.
constexpr double warm_c = 30, warm_telling_k = 8, warm_certain_k = 12;
// Slower than this it need not show: air that takes more than an hour to come to 90 degC.
constexpr double slow_k_per_s = telling_k / 1500;
constexpr double longest_hole_s = 600;
// Of a known thickness, what is thinner hardly shows a lag, and what is warmer at its begin may be on its
// way.
constexpr double thin_m = 0.035, unheated_c = 30, seen_at_rest_s = 60;
constexpr double thickness_doubt = 0.8;
// The time constant of a sphere, the quickest body of its thickness: what is within it and what is at its
// surface (h as above) one after the other, R^2/a (1/pi^2 + k/(3 h R)).
constexpr double quickest_h = 34, pi = 3.141592653589793, slow_for_s = 120;
// What begins cold shows its lag, unless it is slower than that by so much; at rest it may lie in the room.
constexpr double slow_times = 4, seen_to_go_k = 3, far_k = 15;
double time_constant_s(double radius_m, double h) {
    return radius_m * radius_m / meat_properties.diffusivity() *
           (1 / (pi * pi) + meat_properties.conductivity / (3 * h * radius_m));
}
constexpr int answers = 3;  // of ThermalLag::Answer
constexpr double liquid_h = 1000, quicker_share = 0.8, quicker_gone_k = 5;

}  // namespace

ThermalLag::ThermalLag(std::optional<Length> thickness, FoodClass const* food)
    : thickness_known_(thickness && thickness->metres > 0) {
    double const usual = food ? food->least_thickness_m : least_dish_m;
    double const across = thickness_known_ ? thickness_doubt * thickness->metres : usual;
    least_s_ = quickest_fourier * across * across / 4 / meat_properties.diffusivity();
    constant_s_ = time_constant_s(across / 2, quickest_h);
    in_liquid_s_ = time_constant_s(across / 2, liquid_h);
    tested_ = usual > 0 && (!thickness_known_ || thickness->metres >= thin_m);
    if (!tested_) answer_ = Answer::body;
}

void ThermalLag::begin_again() {
    window_.clear();
    armed_ = true;
    answer_ = tested_ ? Answer::open : Answer::body;
}

void ThermalLag::beside(double medium_c, bool air) {
    if (answer_ != Answer::open || window_.size() < 2) return;
    auto const &first = window_.front(), &last = window_.back();
    if (last.t - first.t < slow_for_s) return;
    double const gone = std::abs(last.c - first.c);
    bool const cold = first.c <= unheated_c || put_in_;
    if (cold && gone < seen_to_go_k) return;
    double const least_s = cold ? slow_times * constant_s_ : constant_s_;
    double const way = medium_c - (first.c + last.c) / 2, length_s = last.t - first.t;
    if (std::abs(medium_c - last.c) >= far_k && gone * least_s <= std::abs(way) * length_s)
        answer_ = Answer::body;
    else if (!cold && gone >= quicker_gone_k && (last.c - first.c) * way > 0 &&
             gone * quicker_share * (air ? constant_s_ : in_liquid_s_) > std::abs(way) * length_s)
        answer_ = Answer::no_body;
}

void ThermalLag::doubt() {
    if (tested_ && !thickness_known_) answer_ = Answer::no_body;
}

// From when it left its rest: at the earliest the last reading there, at the latest where the first two
// readings after it point back to.
ThermalLag::Way ThermalLag::way() const {
    auto const& first = window_.front();
    std::size_t at_rest = 0;
    if (window_.size() < 2) return {};
    bool const sparse = window_.back().t - window_[window_.size() - 2].t >= sparse_s;
    // One noisy reading is no level: what left that would have left its rest too soon.
    double level = 0, readings = 0;
    for (auto const& one : window_)
        if (one.t - first.t <= level_s && std::abs(one.c - first.c) <= rest_k) level += one.c, ++readings;
    level /= readings;
    for (std::size_t i = 1; i < window_.size(); ++i)
        if (std::abs(window_[i].c - level) <= (sparse ? sparse_noise_k : noise_k)) at_rest = i;
    Way way;
    way.readings = window_.size() - 1 - at_rest;
    double const base = window_[at_rest].c;
    way.rise_k = window_.back().c - base;
    if (way.readings < 2) return way;
    auto const &one = window_[at_rest + 1], &two = window_[at_rest + 2];
    double const rate = (two.c - one.c) / (two.t - one.t), done = one.c - base;
    double const began = std::max(window_[at_rest].t, rate * done > 0 ? one.t - done / rate : 0.0);
    way.length_s = window_.back().t - began;
    double area = 0;
    Point before{began, base};
    for (std::size_t i = at_rest + 1; i < window_.size(); ++i) {
        area += (window_[i].t - before.t) * ((window_[i].c + before.c) / 2 - base);
        before = window_[i];
    }
    if (std::abs(way.rise_k) > noise_k) way.share = area / (way.length_s * way.rise_k);
    // What noise is on it is less in the mean of a third.
    std::array<double, 3> off{}, count{};
    for (std::size_t i = at_rest + 1; i < window_.size(); ++i) {
        auto const third = (i - at_rest - 1) * off.size() / way.readings;
        off[third] += window_[i].c - base - way.rise_k * (window_[i].t - began) / way.length_s;
        ++count[third];
    }
    for (std::size_t third = 0; third < off.size(); ++third) off[third] /= std::max(1.0, count[third]);
    way.bend_k = std::ranges::max(off) - std::ranges::min(off);
    return way;
}

bool ThermalLag::must_show() const {
    if (!thickness_known_ || put_in_ || window_.front().c <= unheated_c) return true;
    auto const first = window_.front();
    auto const left =
        std::ranges::find_if(window_, [&](Point const& one) { return std::abs(one.c - first.c) > noise_k; });
    return left != window_.end() && left != window_.begin() && std::prev(left)->t - first.t >= seen_at_rest_s;
}

// At rest the newest ten minutes are kept: what comes is measured from there.
void ThermalLag::rest() {
    while (window_.size() > 2 && window_.back().t - window_.front().t > rest_s) window_.pop_front();
}

// Whether it was seen at rest for ten minutes before it left. What is warm must have been: air that swings
// about a level leaves its turning points slowly too.
bool ThermalLag::rested() const {
    auto const first = window_.front();
    for (auto const& one : window_)
        if (std::abs(one.c - first.c) > rest_k)
            return false;
        else if (one.t - first.t >= armed_s)
            return true;
    return false;
}

// Further from one reading to the next than a body comes from rest in that time.
bool ThermalLag::too_quick() const {
    auto const &last = window_.back(), &before = window_[window_.size() - 2];
    return std::abs(last.c - before.c) >= telling_k && last.t - before.t < least_s_;
}

ThermalLag::Answer ThermalLag::decide(Way const& done, double certain) {
    bool const quick = done.length_s < quick_s, few = done.readings < fine_readings;
    double const share = quick ? few ? convex_share : quick_share : few ? coarse_share : convex_share;
    bool const seen = done.readings >= least_readings && (!quick || std::abs(done.rise_k) >= certain);
    bool const late = seen && done.share < share && done.length_s >= least_s_;
    if (late && (window_.front().c < warm_c || rested())) return answer_ = Answer::body;
    // Two readings after rest are a straight line whatever they are: there is no shape yet, only a speed.
    if (done.readings < least_readings)
        return too_quick() && must_show() ? answer_ = Answer::no_body : answer_;
    if (std::abs(done.rise_k) < certain || !must_show()) return answer_;
    bool const straight =
        std::abs(done.share - straight_share) <= straight_within && done.bend_k <= straight_within_k;
    // Of few readings that is soon so by chance.
    if (straight && few && std::abs(done.rise_k) < 2 * certain) return answer_;
    return answer_ = straight ? Answer::body : Answer::no_body;
}

// Over a time without readings only the mean rate is known.
void ThermalLag::over_a_hole(double t, double celsius) {
    double const rise = std::abs(celsius - window_.back().c);
    bool const quick = rise >= telling_k && rise > slow_k_per_s * (t - window_.back().t);
    bool const bare = quick && must_show();
    begin_again();
    if (bare) answer_ = Answer::no_body;
}

ThermalLag::Answer ThermalLag::take(double t, double celsius) {
    if (answer_ != Answer::open) return answer_;
    if (!window_.empty() && t - window_.back().t < spacing_s) return answer_;
    if (!window_.empty() && t - window_.back().t > longest_hole_s) over_a_hole(t, celsius);
    window_.push_back({t, celsius});
    bool const still = std::abs(celsius - window_.front().c) <= (armed_ ? rest_k : noise_k);
    if (still || !armed_) {
        rest();
        if (still && t - window_.front().t >= armed_s) armed_ = true;
        // Much quicker than it was: something else is around it, or it was never slow.
        return std::abs(celsius - window_.front().c) < telling_k ? answer_ : decide(way(), telling_k);
    }
    auto done = way();
    // Bent more than heat through a body is: what moves it began only now.
    if (done.share < least_share && done.readings >= fine_readings && std::abs(done.rise_k) >= telling_k) {
        window_.erase(window_.begin(), window_.end() - 2);
        done = way();
    }
    double const rise = std::abs(done.rise_k);
    bool const warm = done.rise_k > 0 && window_.front().c >= warm_c;
    double const telling = warm ? warm_telling_k : telling_k;
    if (done.length_s * slow_k_per_s >= telling && rise < slow_k_per_s * done.length_s) {
        armed_ = false;
        rest();
        return answer_;
    }
    return rise < telling ? answer_ : decide(done, warm ? warm_certain_k : certain_k);
}

void ThermalLag::fields(FieldVisitor& visit) {
    // In one number, so that what was written before there was the second is read as it was meant.
    int state = static_cast<int>(answer_) + (put_in_ ? answers : 0);
    visit.choice(state);
    put_in_ = state >= answers;
    answer_ = static_cast<Answer>(std::clamp(state % answers, 0, answers - 1));
    visit.flag(armed_);
    double count = static_cast<double>(window_.size());
    visit.number(count);
    bool const writing = !window_.empty();
    auto const points = static_cast<std::size_t>(std::clamp(count, 0.0, 1000.0));
    if (!writing) window_.resize(points);
    for (auto& point : window_) {
        visit.number(point.t);
        visit.number(point.c);
    }
}

}  // namespace ingle
