#include "tests/forecast/score.hpp"

#include <algorithm>
#include <cmath>
#include <ctime>

#include "daemon/forecast/simple_rules.hpp"

namespace ingle::bench {
namespace {

// A medium that falls is at first one whose door was opened: from then on it must be known.
constexpr double noticed_s = 3600;
constexpr double shares[] = {0.1, 0.25, 0.5, 0.75, 0.9};

double loss(double share, double told, double truth) {
    return truth > told ? share * (truth - told) : (1 - share) * (told - truth);
}

Instant at(double t) {
    return Instant(from_seconds(t));
}

double now_ms() {
    timespec spent{};  // of this thread: others on the machine do not count
    clock_gettime(CLOCK_THREAD_CPUTIME_ID, &spent);
    return 1e3 * static_cast<double>(spent.tv_sec) + 1e-6 * static_cast<double>(spent.tv_nsec);
}

}  // namespace

double pinball(Told const& told, double truth) {
    double const q[] = {told.q10, told.q25, told.q50, told.q75, told.q90};
    double sum = 0;
    for (int i = 0; i < 5; ++i) sum += loss(shares[i], q[i], truth) / 5;
    return sum;
}
double pinball_of_point(double told, double truth) {
    return pinball({told, told, told, told, told}, truth);
}

double median(std::vector<double> all) {
    if (all.empty()) return NAN;
    std::ranges::sort(all);
    std::size_t const n = all.size();
    return n % 2 ? all[n / 2] : (all[n / 2 - 1] + all[n / 2]) / 2;
}

void Summary::add(Outcome const& o) {
    ++count;
    auto const percent = [&](double s) { return 100 * s / o.whole_s; };
    if (o.line) line_error.push_back(percent(std::abs(*o.line - o.left_s)));
    if (o.mean_rule) mean_error.push_back(percent(std::abs(*o.mean_rule - o.left_s)));
    if (!o.told) return;
    ++told;
    held80 += o.told->q10 <= o.left_s && o.left_s <= o.told->q90;
    held50 += o.told->q25 <= o.left_s && o.left_s <= o.told->q75;
    error.push_back(percent(std::abs(o.told->q50 - o.left_s)));
    width.push_back(percent(o.told->q90 - o.told->q10));
    double const own = percent(ingle::bench::pinball(*o.told, o.left_s));
    pinball += own;
    if (o.line) pinball_line_own += own, pinball_line += percent(pinball_of_point(*o.line, o.left_s));
    if (o.mean_rule)
        pinball_mean_own += own, pinball_mean += percent(pinball_of_point(*o.mean_rule, o.left_s));
}

CookScore run(SimulatedCook const& cook) {
    CookScore score;
    score.cook = &cook;
    CoreForecast forecast;
    forecast.begin(cook.entries);
    History plain;
    double const whole = cook.arrives_s > 0 ? cook.arrives_s : cook.samples.back().t;
    double next_answer = 60, medium_sum = 0, busy = 0;
    int answers = 0, told = 0;
    std::size_t next = 0;
    CoreForecast::Answer answer;
    for (auto const& sample : cook.samples) {
        if (sample.restart) {
            auto const text = forecast.as_text();
            auto const first = forecast.first();
            CoreForecast again;
            again.begin(cook.entries);
            again.from_text(text, first);
            forecast = std::move(again);
        }
        if (sample.moved) forecast.moved();
        double const before = now_ms();
        forecast.add(at(sample.t), sample.core, sample.medium);
        double spent = now_ms() - before;
        plain.add(sample.t, sample.core, sample.medium);
        bool const scores = next < fraction_count && sample.t >= fractions[next] * whole;
        if (sample.t >= next_answer || scores) {
            next_answer = sample.t + std::max(60.0, whole / 200);
            double const from = now_ms();
            answer = forecast.to(cook.target_c, cook.heating, at(sample.t));
            spent += now_ms() - from;
            ++answers;
            if (sample.t <= 0.1 * whole) score.early = score.early || answer.eta_s.has_value();
            told += answer.eta_s.has_value();
            bool const could = cook.enough_until_s > 0 && sample.t < cook.enough_until_s + noticed_s;
            if (cook.arrives_s < 0 && answer.eta_s && !could) score.told_never = true;
            if (answer.unreachable && !score.called_at_s) score.called_at_s = sample.t;
            if (answer.unreachable) score.called_unreachable = true;
            score.worst_update_ms = std::max(score.worst_update_ms, spent);
        }
        busy += spent;
        if (!scores || cook.arrives_s < 0) continue;
        auto& outcome = score.at[next++];
        outcome.left_s = whole - sample.t, outcome.whole_s = whole;
        double const late = sample.t - plain.end_s();
        medium_sum = 0;
        std::size_t const n = plain.size(), window = std::max<std::size_t>(n / 10, 1);
        for (std::size_t i = n - window; i < n; ++i) medium_sum += plain.medium(i);
        auto const point = [&](std::optional<double> eta) {
            return eta ? std::optional(std::max(0.0, *eta - late)) : std::nullopt;
        };
        outcome.line = point(straight_line(plain, cook.target_c, cook.heating));
        outcome.mean_rule =
            point(mean_rule(plain, cook.target_c, cook.heating, medium_sum / static_cast<double>(window)));
        if (answer.eta_s)
            outcome.told =
                Told{*answer.low_s, *answer.low_half_s, *answer.eta_s, *answer.high_half_s, *answer.high_s};
    }
    score.mean_update_ms = busy / std::max(answers, 1);
    score.told_share = static_cast<double>(told) / std::max(answers, 1);
    return score;
}

}  // namespace ingle::bench
