#include "daemon/watches/leaving_band/response.hpp"

#include <algorithm>
#include <cmath>

namespace ingle {
namespace {

constexpr int looked_back_s = 180;                     // a turn shows within this time
constexpr int bend_s = 90;                             // a turn that is working shows within this time
constexpr Span full_after = std::chrono::seconds(60);  // the bend has not grown for this long: it is complete
constexpr Span longest_turn = std::chrono::minutes(8), longest_settling = std::chrono::hours(1);
constexpr Span shortest_settling = std::chrono::seconds(120);  // faster than this it was another turn
constexpr double settled_share = 0.55;                         // of the slope left: far enough to judge by
constexpr double least_constant_s = 120, most_constant_s = 7200;
constexpr double sure = 4;              // standard deviations
constexpr double bent_share = 0.3;      // of the slope gone within bend_s: more than it does by itself
constexpr double natural_factor = 2.5;  // times what it does by itself
constexpr double reserve = 0.8;         // of the gap that a stop may use up

// What a turn of the heat must change of the slope to be one. A flame wavers little, a fire and the wind
// much.
double least_bend_of(VesselKind kind) {
    switch (kind) {
        case VesselKind::pot:
        case VesselKind::bath:
            return 0.3 / 60;
        case VesselKind::smoker:
        case VesselKind::oven:
        case VesselKind::hot_box:
            return 1.5 / 60;
        case VesselKind::fridge:
        case VesselKind::room:
            return 1.0 / 60;
    }
    return 1.0 / 60;
}

}  // namespace

double usual_time_constant(VesselKind kind) {
    switch (kind) {
        case VesselKind::pot:
        case VesselKind::oven:
            return 900;
        case VesselKind::bath:
        case VesselKind::smoker:
        case VesselKind::hot_box:
            return 1200;
        case VesselKind::fridge:
        case VesselKind::room:
            return 3600;
    }
    return 1200;
}

void ResponseLearner::Newest::take(double value) {
    values_[static_cast<std::size_t>(next_)] = value;
    next_ = (next_ + 1) % newest_;
    count_ = std::min(count_ + 1, newest_);
}

std::optional<double> ResponseLearner::Newest::median() const {
    if (count_ == 0) return std::nullopt;
    auto values = values_;
    auto const end = values.begin() + count_;
    std::sort(values.begin(), end);
    auto const middle = static_cast<std::size_t>(count_ / 2);
    return count_ % 2 ? values[middle] : 0.5 * (values[middle - 1] + values[middle]);
}

ResponseLearner::ResponseLearner(VesselKind kind)
    : usual_s_(usual_time_constant(kind)),
      least_bend_(least_bend_of(kind)),
      least_way_(holds_liquid(kind) ? 0.8 : 2.5) {}

void ResponseLearner::interrupt() {
    count_ = 0;
    state_ = State::idle;
}

std::optional<double> ResponseLearner::slope_ago(int s) const {
    int const steps = s / every_s;
    if (steps >= count_) return std::nullopt;
    return slopes_[static_cast<std::size_t>((next_ - 1 - steps + 2 * slots_) % slots_)];
}

void ResponseLearner::step(Instant now, double level, double slope, double slope_sd) {
    slopes_[static_cast<std::size_t>(next_)] = slope;
    next_ = (next_ + 1) % slots_;
    count_ = std::min(count_ + 1, slots_);
    if (state_ == State::idle) {
        auto const then = slope_ago(looked_back_s);
        if (!then || now < rest_until_) return;
        double const change = slope - *then;
        // On the way to its balance a slope falls by itself.
        bool const toward_rest = change * *then < 0;
        double const natural =
            toward_rest ? std::abs(*then) * -std::expm1(-looked_back_s / time_constant()) : 0;
        if (std::abs(change) < std::max(least_bend_, sure * slope_sd) + 1.5 * natural) return;
        state_ = State::turning;
        before_ = *then;
        peak_ = 0;
        began_ = peak_at_ = now;
    }
    if (state_ == State::turning) {
        double const change = slope - before_;
        if (std::abs(change) > std::abs(peak_)) {
            peak_ = change;
            peak_at_ = now;
            level_ = level;
            slope_ = slope;
        }
        if (now - began_ > longest_turn)
            rest(now);  // no turn: something that goes on and on
        else if (now - peak_at_ >= full_after)
            turned(now);
        return;
    }
    double const least = std::max(least_bend_, sure * slope_sd);
    if (std::abs(slope_) < least || turned_again(now, slope, slope_sd)) {
        state_ = State::idle;
        return;
    }
    bool const far_enough = std::abs(level - level_) > least_way_;
    if (!far_enough || std::abs(slope) > settled_share * std::abs(slope_)) return;
    double const constant = (level - level_) / (slope_ - slope);
    if (constant > least_constant_s && constant < most_constant_s) settled(constant);
    rest(now);
}

void ResponseLearner::rest(Instant now) {
    state_ = State::idle;
    rest_until_ = now + std::chrono::seconds(looked_back_s);
}

bool ResponseLearner::turned_again(Instant now, double slope, double slope_sd) const {
    if (now - peak_at_ > longest_settling || slope * slope_ < 0) return true;
    if (std::abs(slope) > 1.15 * std::abs(slope_)) return true;
    auto const then = slope_ago(bend_s);
    if (!then || now - peak_at_ < full_after + shortest_settling)
        return std::abs(slope) < settled_share * std::abs(slope_);
    double const gone = std::abs(*then) - std::abs(slope);
    double const natural = std::abs(*then) * -std::expm1(-bend_s / time_constant());
    return gone > natural_factor * natural + std::max(0.5 * least_bend_, 2 * slope_sd);
}

// The bend is complete.
void ResponseLearner::turned(Instant now) {
    state_ = State::settling;
    // From a tenth of the change to nine tenths of it, looking back from the newest slope.
    int tenth = 0, nine = 0;
    int const since_peak = static_cast<int>(seconds(now - peak_at_));
    for (int s = since_peak; s < kept_s; s += every_s) {
        auto const then = slope_ago(s);
        if (!then) break;
        double const share = (*then - before_) / peak_;
        if (share > 0.9) nine = s;
        tenth = s;
        if (share < 0.1) break;
    }
    lags_.take(std::max(tenth - nine, every_s));
    turns_.take(std::abs(peak_) * time_constant());
    learnt_.lag_s = lags_.median();
    learnt_.turn_k = turns_.median();
    ++learnt_.turns;
}

void ResponseLearner::settled(double time_constant) {
    constants_.take(time_constant);
    learnt_.time_constant_s = constants_.median();
    ++learnt_.settlings;
}

void ResponseLearner::door(double recovery_s) {
    // Newest counts most: the fire of the last hour, not that of the first.
    learnt_.recovery_s = learnt_.recovery_s ? 0.5 * (*learnt_.recovery_s + recovery_s) : recovery_s;
    ++learnt_.doors;
}

bool ResponseLearner::working(double slope, double slope_sd, double gap, bool upward) const {
    auto const then = slope_ago(bend_s);
    if (!then || std::abs(*then) < least_bend_ / 3) return false;
    if (slope * *then < 0) return (slope > 0) != upward;  // it has turned round
    double const gone = std::abs(*then) - std::abs(slope);
    double const natural = std::abs(*then) * -std::expm1(-bend_s / time_constant());
    if (gone < std::max(bent_share * std::abs(*then), natural_factor * natural)) return false;
    if (gone < 3 * slope_sd) return false;
    double const stops_after = slope * slope * bend_s / (2 * gone);
    return stops_after < reserve * gap;
}

void ResponseLearner::remember(Memory& memory, std::string const& prefix) const {
    auto const put = [&](char const* key, std::optional<double> value, int seen) {
        if (!value) return;
        memory.put(prefix + key, *value);
        memory.put(prefix + key + ".seen", std::int64_t{seen});
    };
    put("constant", learnt_.time_constant_s, learnt_.settlings);
    put("lag", learnt_.lag_s, learnt_.turns);
    put("turn", learnt_.turn_k, learnt_.turns);
    put("recovery", learnt_.recovery_s, learnt_.doors);
}

void ResponseLearner::recall(Memory const& memory, std::string const& prefix) {
    auto const get = [&](char const* key, int& seen) {
        auto const value = memory.number(prefix + key);
        if (value) seen = static_cast<int>(memory.integer(prefix + key + ".seen").value_or(1));
        return value;
    };
    if (auto const s = get("constant", learnt_.settlings)) constants_.take(*s);
    if (auto const s = get("lag", learnt_.turns)) lags_.take(*s);
    if (auto const k = get("turn", learnt_.turns)) turns_.take(*k);
    learnt_.time_constant_s = constants_.median();
    learnt_.lag_s = lags_.median();
    learnt_.turn_k = turns_.median();
    learnt_.recovery_s = get("recovery", learnt_.doors);
}

}  // namespace ingle
