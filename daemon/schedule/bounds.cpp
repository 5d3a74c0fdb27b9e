#include "daemon/schedule/bounds.hpp"

#include <algorithm>

namespace ingle::schedule {
namespace {

constexpr std::size_t most_rounds = 200;  // of one begin; more only where orders contradict each other
// An order whose effect comes back to it contradicts the others, unless a night lay between.
constexpr std::size_t rounds_without_nights = 4, rounds_of_a_night = 2;

}  // namespace

Bounds::Bounds(Problem const& problem, Serving serving, Seconds horizon)
    : problem_(problem), serving_(serving), horizon_(horizon) {
    for (auto const& job : problem.jobs) {
        first_.push_back(hands_.size());
        for (auto const& task : job.tasks)
            hands_.push_back(task.attended || task.hands > 0 ? task.hands : -1);
        hands_.push_back(-1);
    }
    after_.resize(hands_.size()), before_.resize(hands_.size());
    for (std::size_t j = 0; j < problem.jobs.size(); ++j)
        for (std::size_t i = 0; i < problem.jobs[j].tasks.size(); ++i) {
            auto const& task = problem.jobs[j].tasks[i];
            auto const x = first_[j] + i;
            after_[x].push_back({x + 1, task.least});
            before_[x + 1].push_back({x, task.least});
            after_[x + 1].push_back({x, -task.most});
            before_[x].push_back({x + 1, -task.most});
        }
}

std::optional<Bounds::Range> Bounds::range() const {
    Range range{std::vector<Seconds>(hands_.size()), std::vector<Seconds>(hands_.size(), horizon_)};
    std::vector<std::size_t> all;
    for (std::size_t j = 0; j < problem_.jobs.size(); ++j) {
        auto const& job = problem_.jobs[j];
        auto const begin = first_[j], end = begin + job.tasks.size();
        for (auto x = begin; x <= end; ++x) range.low[x] = job.earliest, all.push_back(x);
        if (job.fixed) range.high[begin] = job.earliest;
        range.low[end] = std::max(range.low[end], job.serve_at);
        if (serving_ == Serving::on_time) range.high[end] = job.serve_at;
    }
    for (auto const x : all) {
        range.low[x] = past_nights(x, range.low[x]);
        range.high[x] = before_nights(x, range.high[x]);
        if (range.low[x] > range.high[x]) return std::nullopt;
    }
    if (!spread(range, all, all)) return std::nullopt;
    return range;
}

void Bounds::add(Order const& order) {
    auto const before = number_of(order.before), after = number_of(order.after);
    after_[before].push_back({after, order.gap});
    before_[after].push_back({before, order.gap});
    added_.emplace_back(before, after);
}

void Bounds::drop() {
    after_[added_.back().first].pop_back();
    before_[added_.back().second].pop_back();
    added_.pop_back();
}

bool Bounds::tighten(Range& range) const {
    return spread(range, {added_.back().first}, {added_.back().second});
}

bool Bounds::spread(Range& range, std::vector<std::size_t> raised, std::vector<std::size_t> lowered) const {
    auto left = most_rounds * hands_.size();
    auto const most_returns = rounds_without_nights + rounds_of_a_night * problem_.nights.size();
    std::size_t returns = 0;
    bool const one = raised.size() == 1;
    for (std::size_t at = 0; at < raised.size(); ++at) {
        if (one && raised[at] == raised[0] && ++returns > most_returns) return false;
        for (auto const& edge : after_[raised[at]]) {
            auto const wanted = range.low[raised[at]] + edge.gap;
            if (wanted <= range.low[edge.to]) continue;
            range.low[edge.to] = past_nights(edge.to, wanted);
            if (range.low[edge.to] > range.high[edge.to] || left-- == 0) return false;
            raised.push_back(edge.to);
        }
    }
    returns = 0;
    for (std::size_t at = 0; at < lowered.size(); ++at) {
        if (one && lowered[at] == lowered[0] && ++returns > most_returns) return false;
        for (auto const& edge : before_[lowered[at]]) {
            auto const wanted = range.high[lowered[at]] - edge.gap;
            if (wanted >= range.high[edge.to]) continue;
            range.high[edge.to] = before_nights(edge.to, wanted);
            if (range.low[edge.to] > range.high[edge.to] || left-- == 0) return false;
            lowered.push_back(edge.to);
        }
    }
    return true;
}

Seconds Bounds::past_nights(std::size_t number, Seconds t) const {
    auto const hands = hands_[number];
    if (hands < 0) return t;
    auto const& nights = problem_.nights;
    auto night = std::ranges::upper_bound(nights, t, {}, &Interval::to);  // the first that ends later
    for (; night != nights.end() && (hands > 0 ? t + hands > night->from : t > night->from); ++night)
        t = night->to;
    return t;
}

Seconds Bounds::before_nights(std::size_t number, Seconds t) const {
    auto const hands = hands_[number];
    if (hands < 0) return t;
    auto const& nights = problem_.nights;
    auto night = std::ranges::lower_bound(nights, t + hands, {}, &Interval::from);
    for (; night != nights.begin() && t < (night - 1)->to; --night) t = (night - 1)->from - hands;
    return t;
}

Times Bounds::times(std::vector<Seconds> const& values) const {
    Times times;
    for (std::size_t j = 0; j < problem_.jobs.size(); ++j) {
        auto const begin = values.begin() + static_cast<std::ptrdiff_t>(first_[j]);
        times.emplace_back(begin, begin + static_cast<std::ptrdiff_t>(problem_.jobs[j].tasks.size() + 1));
    }
    return times;
}

}  // namespace ingle::schedule
