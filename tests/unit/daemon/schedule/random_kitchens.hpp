// Small random kitchens, a checker of schedules and a search through all of them, which know nothing of how
// the solver works: time is a row of slots, a dish a row of rows.
#pragma once

#include <bitset>
#include <cstdint>
#include <optional>
#include <random>
#include <string>
#include <vector>

#include "daemon/schedule/problem.hpp"

namespace ingle::schedule::testing {

class Dice {
public:
    explicit Dice(std::uint32_t seed) : engine_(seed) {}
    int from(int low, int high) {  // the same on every machine
        return low + static_cast<int>(engine_() % static_cast<std::uint32_t>(high - low + 1));
    }
    bool one_in(int n) { return from(1, n) == 1; }

private:
    std::mt19937 engine_;
};

struct Size {
    int dishes = 3, stages = 3, vessels = 2, slots = 60, longest_wait = 6, wait_stages = 2;
    bool nights = true, fixed = true;
    int longest_stage = 5;
    int spread = 12;          // of the serving times
    bool all_stages = false;  // of each dish; else from one on
};

inline Band band_from(Dice& dice) {
    double const low = 60 + 10 * dice.from(0, 4);
    return {{low}, {low + 15}};
}

// Lengths are whole slots of one second, so that nothing between them can be better.
inline Problem random_kitchen(std::uint32_t seed, Size const& size) {
    Dice dice(seed);
    Problem problem;
    int const vessels = dice.from(size.vessels - 1, size.vessels);
    for (int v = 0; v < vessels; ++v) problem.rooms.push_back(dice.one_in(2) ? 1 : dice.from(2, 3));
    if (size.nights && dice.one_in(2)) {
        int const from = dice.from(5, size.slots / 2);
        problem.nights.push_back({from, from + dice.from(2, 8)});
    }
    int const dishes = dice.from(size.dishes - 1, size.dishes);
    for (int d = 0; d < dishes; ++d) {
        Job job;
        job.serve_at = size.slots - dice.from(0, size.spread);
        job.earliest = dice.from(0, 4);
        int waits = size.wait_stages;
        int const stages = size.all_stages ? size.stages : dice.from(1, size.stages);
        for (int s = 0; s < stages; ++s) {
            Task task;
            task.vessel = dice.one_in(6) ? -1 : dice.from(0, vessels - 1);
            if (dice.one_in(3)) task.band = band_from(dice);
            task.least = task.most = dice.from(1, size.longest_stage);
            if (waits > 0 && (s + 1 == stages || dice.one_in(2))) {
                --waits;
                task.least = dice.from(0, 2),
                task.most = task.least + dice.from(size.longest_wait / 2, size.longest_wait);
            }
            if (dice.one_in(2)) task.hands = std::min<Seconds>(dice.from(1, 2), task.least);
            task.attended = dice.one_in(3);
            job.tasks.push_back(task);
        }
        if (size.fixed && dice.one_in(8)) job.fixed = true;
        problem.jobs.push_back(std::move(job));
    }
    return problem;
}

// What is wrong with a schedule, slot by slot; "": nothing.
inline std::string broken(Problem const& problem, Times const& times, bool may_be_late = false) {
    Seconds end = 0;
    for (std::size_t d = 0; d < problem.jobs.size(); ++d) {
        auto const& job = problem.jobs[d];
        auto const& t = times.at(d);
        auto const name = "dish " + std::to_string(d);
        if (t.size() != job.tasks.size() + 1) return name + " has not all its stages";
        if (t.front() < job.earliest || (job.fixed && t.front() != job.earliest))
            return name + " begins too early";
        if (may_be_late ? t.back() < job.serve_at : t.back() != job.serve_at)
            return name + " is not served in time";
        for (std::size_t s = 0; s < job.tasks.size(); ++s) {
            auto const length = t[s + 1] - t[s];
            if (length < job.tasks[s].least || length > job.tasks[s].most)
                return name + " stage " + std::to_string(s) + " lasts " + std::to_string(length);
            bool const needs = job.tasks[s].attended || job.tasks[s].hands > 0;
            for (auto const& night : problem.nights) {
                if (needs && t[s] > night.from && t[s] < night.to) return name + " begins at night";
                for (Seconds k = t[s]; k < t[s] + job.tasks[s].hands; ++k)
                    if (k >= night.from && k < night.to) return name + " asks for hands at night";
            }
        }
        end = std::max(end, t.back());
    }
    for (Seconds now = 0; now < end; ++now) {
        int hands = 0;
        std::vector<std::vector<Task const*>> in(problem.rooms.size());
        for (std::size_t d = 0; d < problem.jobs.size(); ++d)
            for (std::size_t s = 0; s < problem.jobs[d].tasks.size(); ++s) {
                auto const& task = problem.jobs[d].tasks[s];
                auto const from = times[d][s], to = times[d][s + 1];
                if (now >= from && now < from + task.hands) ++hands;
                if (task.vessel >= 0 && now >= from && now < to)
                    in[static_cast<std::size_t>(task.vessel)].push_back(&task);
            }
        auto const when = " in slot " + std::to_string(now);
        if (hands > 1) return "hands in two places" + when;
        for (std::size_t v = 0; v < in.size(); ++v) {
            if (in[v].size() > static_cast<std::size_t>(problem.rooms[v])) return "no room" + when;
            for (auto const* a : in[v])
                for (auto const* b : in[v])
                    if (a->band && b->band && (a->band->high < b->band->low || b->band->high < a->band->low))
                        return "two temperatures" + when;
        }
    }
    return "";
}

// Every way for each dish to wait, all of them together: the least waiting of all dishes, or nothing.
class AllWays {
public:
    explicit AllWays(Problem const& problem) : problem_(problem) {
        for (std::size_t d = 0; d < problem.jobs.size(); ++d) ways_.push_back(ways_of(problem.jobs[d]));
    }
    std::optional<Seconds> least_waiting() {
        chosen_.clear();
        choose(0, 0);
        return best_;
    }

private:
    struct Way {
        Seconds waiting = 0;
        std::vector<Seconds> times;
    };
    std::vector<Way> ways_of(Job const& job) const {
        std::vector<Way> ways{{0, {job.serve_at}}};
        for (auto task = job.tasks.rbegin(); task != job.tasks.rend(); ++task) {
            std::vector<Way> longer;
            for (auto const& way : ways)
                for (Seconds wait = 0; wait <= task->most - task->least; ++wait) {
                    auto next = way;
                    next.waiting += wait;
                    next.times.insert(next.times.begin(), way.times.front() - task->least - wait);
                    if (next.times.front() >= job.earliest) longer.push_back(std::move(next));
                }
            ways = std::move(longer);
        }
        std::erase_if(ways, [&](Way const& way) { return !alone(job, way.times); });
        std::ranges::sort(ways, {}, &Way::waiting);
        return ways;
    }
    bool alone(Job const& job, std::vector<Seconds> const& times) const {
        Problem one;
        one.jobs = {job}, one.rooms = problem_.rooms, one.nights = problem_.nights;
        return broken(one, {times}).empty();
    }
    bool together(std::vector<Seconds> const& a, Job const& of_a, std::vector<Seconds> const& b,
                  Job const& of_b) const {
        for (std::size_t i = 0; i < of_a.tasks.size(); ++i)
            for (std::size_t k = 0; k < of_b.tasks.size(); ++k) {
                auto const &x = of_a.tasks[i], &y = of_b.tasks[k];
                auto const hands_x = x.hands, hands_y = y.hands;
                if (hands_x > 0 && hands_y > 0 && a[i] < b[k] + hands_y && b[k] < a[i] + hands_x)
                    return false;
                bool const meet = x.vessel >= 0 && x.vessel == y.vessel && a[i] < b[k + 1] &&
                                  b[k] < a[i + 1] && a[i] < a[i + 1] && b[k] < b[k + 1];
                if (!meet) continue;
                if (problem_.rooms[static_cast<std::size_t>(x.vessel)] == 1) return false;
                if (x.band && y.band && (x.band->high < y.band->low || y.band->high < x.band->low))
                    return false;
            }
        return true;
    }
    void choose(std::size_t d, Seconds so_far) {
        if (best_ && so_far >= *best_) return;
        if (d == problem_.jobs.size()) {
            Times times;
            for (auto const* way : chosen_) times.push_back(way->times);
            if (broken(problem_, times).empty()) best_ = so_far;  // room for more than two is looked at here
            return;
        }
        for (auto const& way : ways_[d]) {
            bool fits = true;
            for (std::size_t e = 0; e < d && fits; ++e)
                fits = together(chosen_[e]->times, problem_.jobs[e], way.times, problem_.jobs[d]);
            if (!fits) continue;
            chosen_.push_back(&way);
            choose(d + 1, so_far + way.waiting);
            chosen_.pop_back();
        }
    }

    Problem const& problem_;
    std::vector<std::vector<Way>> ways_;
    std::vector<Way const*> chosen_;
    std::optional<Seconds> best_;
};

}  // namespace ingle::schedule::testing
