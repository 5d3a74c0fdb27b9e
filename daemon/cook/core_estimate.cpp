#include "daemon/cook/core_estimate.hpp"

#include <algorithm>
#include <charconv>
#include <cmath>
#include <utility>

namespace ingle {
namespace {

constexpr Span look_back = std::chrono::minutes(10);
constexpr double still_coming_k =
    1;  // of the medium in that time: a vessel that warms up is not one that cannot
// Below this a core that stands still is too long in the danger zone (USDA: 40 to 140 degF), whatever the
// cause.
constexpr double stalls_from_c = 60;
constexpr std::size_t most = 512;  // points kept: the cost does not grow with the length of the cook

// Half-width of an honest 80 % interval as a share of the whole time, by how far the cook is. From the errors
// of this very rule on measured roasts: 90 % of them under about 30 % at half way and 6 % at 85 %.
double spread(double progress) {
    constexpr std::pair<double, double> table[] = {{0.0, 0.8},  {0.3, 0.45},  {0.5, 0.25},
                                                   {0.7, 0.12}, {0.85, 0.05}, {1.0, 0.02}};
    for (std::size_t i = 1; i < std::size(table); ++i) {
        auto const [p0, s0] = table[i - 1];
        auto const [p1, s1] = table[i];
        if (progress <= p1) return s0 + (s1 - s0) * (progress - p0) / (p1 - p0);
    }
    return 0.02;
}

void put(std::string& text, double value) {
    char buffer[32];
    auto const end = std::to_chars(buffer, buffer + sizeof buffer, value).ptr;
    text.append(buffer, end);
}

}  // namespace

void CoreEstimate::clear() {
    points_.clear();
    spacing_ = std::chrono::seconds(5);
}

void CoreEstimate::add(Instant at, double core, std::optional<double> medium) {
    if (!points_.empty() && at - points_.back().at < spacing_) return;
    points_.push_back({at, core, medium.value_or(0), medium.has_value()});
    if (points_.size() < most) return;
    std::size_t kept = 0;
    for (std::size_t i = 0; i < points_.size(); i += 2) points_[kept++] = points_[i];
    points_.resize(kept);
    spacing_ *= 2;
}

CoreEstimate::Line CoreEstimate::fit(Instant from, Instant to) const {
    double n = 0, st = 0, sy = 0, stt = 0, sty = 0, syy = 0;
    for (auto const& p : points_) {
        if (p.at < from || p.at > to) continue;
        double const t = seconds(p.at - to), y = p.core;
        n += 1, st += t, sy += y, stt += t * t, sty += t * y, syy += y * y;
    }
    Line line;
    line.count = static_cast<int>(n);
    double const spread_t = stt - st * st / std::max(n, 1.0);
    if (n < 3 || spread_t <= 0) return line;
    line.slope = (sty - st * sy / n) / spread_t;
    line.level = (sy - line.slope * st) / n;
    double const residual = std::max(0.0, syy - sy * sy / n - line.slope * line.slope * spread_t);
    // Residuals of a slow curve are not independent: never believe in more than a tenth of a kelvin.
    line.slope_error = std::sqrt(std::max(residual / n, 0.01) / spread_t);
    return line;
}

CoreEstimate::Answer CoreEstimate::to(double target, bool heating, Instant now) const {
    Answer answer;
    auto const none = [&](std::string why) {
        answer.why = std::move(why);
        return answer;
    };
    if (points_.empty()) return none("no reading of the core yet");
    double const sign = heating ? 1 : -1;
    double const elapsed = seconds(now - points_.front().at);
    if (sign * (points_.back().core - target) >= 0) {
        answer.eta_s = answer.low_s = answer.high_s = 0;
        answer.why = "the core is there";
        return answer;
    }
    if (now - points_.back().at > std::max<Span>(3 * spacing_, std::chrono::minutes(2))) {
        return none("no fresh reading of the core");
    }
    if (elapsed < 120) return none("too early: the core has been followed for less than 2 min");

    Span const quarter = from_seconds(std::max(0.25 * elapsed, 60.0));
    Line const recent = fit(now - quarter, now);
    Line const before = fit(now - 2 * quarter, now - quarter);
    double const slope = sign * recent.slope;

    // The newest ten minutes of the medium, so that a thermostat's cycle or one door does not decide.
    auto const mean_medium = [&](Instant after, Instant until) {
        double sum = 0, count = 0;
        for (auto p = points_.rbegin(); p != points_.rend() && p->at > after; ++p)
            if (p->has_medium && p->at <= until) sum += p->medium, count += 1;
        return count > 0 ? std::optional(sum / count) : std::nullopt;
    };
    auto medium = mean_medium(now - look_back, now);
    if (auto const newest =
            std::find_if(points_.rbegin(), points_.rend(), [](auto const& p) { return p.has_medium; });
        !medium && newest != points_.rend())
        medium = newest->medium;
    if (medium && sign * (*medium - target) <= 0) {
        auto const earlier = mean_medium(now - 2 * look_back, now - look_back);
        if (earlier && sign * (*medium - *earlier) > still_coming_k)
            return none("the medium is still on its way: too early for an honest estimate");
        answer.unreachable = true;
        return none("the medium as it is now does not bring the core to its target");
    }
    double const travelled = sign * (recent.level - points_.front().core);
    double const way = sign * (target - points_.front().core);
    double const least = std::max(2 * recent.slope_error, 0.02 / 60);
    if (slope < -least) return none("the core is moving away from its target");
    if (slope < least) {
        if (travelled <= 0.3 * way) return none("the core is not moving yet");
        // Only on the way up, and only where so much evaporates, is that no reason for more heat.
        answer.stalled = heating && recent.level >= stalls_from_c;
        answer.unreachable = !answer.stalled;
        return none("the core hardly moves: when it comes to its target cannot be foretold");
    }
    bool const speeding_up = before.count >= 3 && slope > 1.15 * sign * before.slope + 2 * before.slope_error;
    if (speeding_up && travelled < 0.35 * way) {
        return none("the core is still gaining speed: too early for an honest estimate");
    }

    double const left = sign * (target - recent.level);
    double const line = std::max(0.0, left / slope);
    std::optional<double> curve;  // exponential approach to the measured medium over the later half
    if (medium) {
        double n = 0, st = 0, sy = 0, stt = 0, sty = 0;
        for (auto const& p : points_) {
            double const gap = sign * (*medium - p.core);
            if (seconds(now - p.at) > 0.5 * elapsed || gap <= 0) continue;
            double const t = seconds(p.at - now), y = std::log(gap);
            n += 1, st += t, sy += y, stt += t * t, sty += t * y;
        }
        double const spread_t = n > 2 ? stt - st * st / n : 0;
        double const rate = spread_t > 0 ? -(sty - st * sy / n) / spread_t : 0;
        double const gap_now = sign * (*medium - recent.level), gap_then = sign * (*medium - target);
        if (rate > 0 && gap_now > gap_then) curve = std::log(gap_now / gap_then) / rate;
    }
    double const eta = curve ? 0.5 * (line + *curve) : line;
    double const total = elapsed + eta;
    double half = std::max({spread(elapsed / total) * total, 120.0, 0.02 * elapsed});
    answer.eta_s = eta;
    answer.low_s = std::max(0.0, std::min({line, curve.value_or(line), eta - half}));
    answer.high_s = std::max({line, curve.value_or(line), eta + half});
    // Without the medium the bend of the curve is unknown; evaporation makes early cooling too fast.
    if (!curve) *answer.high_s += eta;
    if (!heating && recent.level > 60) *answer.high_s += 0.3 * eta;
    answer.why = curve ? "between a straight line and an approach to the medium" : "a straight line only";
    return answer;
}

std::string CoreEstimate::as_text() const {
    std::string text = std::to_string(spacing_.count());
    for (auto const& p : points_) {
        text += ' ' + std::to_string((p.at - first()).count()) + ',';
        put(text, p.core);
        if (p.has_medium) {
            text += ',';
            put(text, p.medium);
        }
    }
    return text;
}

void CoreEstimate::from_text(std::string_view text, Instant first) {
    clear();
    char const* at = text.data();
    char const* const end = at + text.size();
    std::int64_t number = 0;
    auto read = std::from_chars(at, end, number);
    if (read.ec != std::errc{} || number <= 0) return;
    spacing_ = Span(number);
    at = read.ptr;
    while (at < end && *at == ' ') {
        Point p;
        read = std::from_chars(at + 1, end, number);
        if (read.ec != std::errc{} || read.ptr == end || *read.ptr != ',') return;
        p.at = first + Span(number);
        read = std::from_chars(read.ptr + 1, end, p.core);
        if (read.ec != std::errc{}) return;
        if (read.ptr < end && *read.ptr == ',') {
            read = std::from_chars(read.ptr + 1, end, p.medium);
            if (read.ec != std::errc{}) return;
            p.has_medium = true;
        }
        at = read.ptr;
        points_.push_back(p);
    }
}

}  // namespace ingle
