#include "daemon/schedule/chance.hpp"

#include <algorithm>
#include <cmath>
#include <optional>
#include <utility>

#include "daemon/forecast/draws.hpp"

namespace ingle::schedule {
namespace {

constexpr std::uint64_t seed = 20261126;
constexpr int suppers = 400;
constexpr double tenth = 1.2816;  // of a normal distribution: a tenth is beyond it
constexpr Seconds a_minute = 60;  // later than its time is in time

// What goes in cold takes heat with it, and a time that counts in the band waits until that is back: nine of
// ten within 7 min. Common practice, no source.
constexpr Seconds heat_back_s = 420;
constexpr double heated_c = 50, tenths_of_mean = 2.3026;  // ln 10

double drawn(StageLength const& length, double normal) {
    if (length.low == length.high) return length.likely;
    auto const far = normal < 0 ? length.low : length.high;
    double const share = std::abs(normal) / tenth;
    if (length.low > 0) return length.likely * std::pow(far / length.likely, share);
    return std::max(0.0, length.likely + share * (far - length.likely));
}

Seconds exponential(double mean_s, Draws& draws) {
    return static_cast<Seconds>(mean_s * -std::log(draws.uniform()));
}
class Supper {
public:
    Supper(Problem const& problem, Times const& planned) : problem_(problem), planned_(planned) {
        for (auto const& job : problem.jobs) ends_.emplace_back(job.tasks.size());
        stays_.resize(problem.rooms.size());
    }

    // When each job is ready; `prompt`: what is to be begun is begun at once.
    std::vector<Seconds> run(std::vector<std::vector<StageLength>> const& lengths, Draws& draws,
                             bool prompt) {
        hands_free_ = std::numeric_limits<Seconds>::min();
        for (auto& stays : stays_) stays.clear();
        next_.clear();
        for (std::size_t j = 0; j < problem_.jobs.size(); ++j) next_.push_back({planned_[j][0], 0});
        while (auto const job = first_to_begin()) begin(*job, lengths, draws, prompt);
        std::vector<Seconds> ready;
        for (auto const& ends : ends_) ready.push_back(ends.back());
        return ready;
    }

private:
    struct Stay {
        std::size_t job, task;
        Seconds from, to;
    };
    struct Next {  // of a job: the task, and when it can begin, as far as is known
        Seconds from;
        std::size_t task;
    };
    static bool may_be_longer(Task const& task) { return task.most > task.least; }

    // Whatever begins first has the hands and the room, not what was planned first: who is late keeps nobody
    // waiting.
    std::optional<std::size_t> first_to_begin() {
        for (;;) {
            std::optional<std::size_t> first;
            for (std::size_t j = 0; j < next_.size(); ++j)
                if (next_[j].task < problem_.jobs[j].tasks.size() && (!first || sooner(j, *first))) first = j;
            if (!first) return first;
            auto& next = next_[*first];
            auto const from = begin_of(*first, next.task, problem_.jobs[*first].tasks[next.task]);
            if (from == next.from) return first;
            next.from = from;
        }
    }
    bool sooner(std::size_t a, std::size_t b) const {
        auto const key = [&](std::size_t j) { return std::pair(next_[j].from, planned_[j][next_[j].task]); };
        return key(a) < key(b);
    }
    void begin(std::size_t j, std::vector<std::vector<StageLength>> const& lengths, Draws& draws,
               bool prompt) {
        auto const i = next_[j].task;
        auto const& task = problem_.jobs[j].tasks[i];
        bool const by_hand = !prompt && task.attended && !task.under_way;
        auto const from = next_[j].from + (by_hand ? exponential(hands_late_s / tenths_of_mean, draws) : 0);
        // A dish that cannot go on stays where it is.
        if (i > 0) lengthen(j, i - 1, from);
        auto end = from + static_cast<Seconds>(drawn(lengths[j][i], draws.normal()));
        if (by_hand && heat_back(task, lengths[j][i]) > 0)
            end += exponential(heat_back_s / tenths_of_mean, draws);
        if (may_be_longer(task)) end = std::max(end, planned_[j][i + 1]);
        ends_[j][i] = end;
        if (task.hands > 0) hands_free_ = from + task.hands;
        if (task.vessel >= 0) stays_[static_cast<std::size_t>(task.vessel)].push_back({j, i, from, end});
        next_[j] = {end, i + 1};
    }

    Seconds begin_of(std::size_t j, std::size_t i, Task const& task) const {
        auto t = i == 0 ? planned_[j][0] : ends_[j][i - 1];
        for (;;) {
            auto later = t;
            if (task.hands > 0) later = std::max(later, hands_free_);
            if (task.attended || task.hands > 0) later = awake(later, task.hands);
            if (task.vessel >= 0 && !task.under_way) later = std::max(later, room_from(j, task, later));
            if (later == t) return t;
            t = later;
        }
    }
    Seconds awake(Seconds t, Seconds hands) const {
        for (auto const& night : problem_.nights)
            if (t < night.to && (hands > 0 ? t + hands > night.from : t > night.from)) t = night.to;
        return t;
    }
    // The end of what keeps it out; or before `t`: nothing does.
    Seconds room_from(std::size_t j, Task const& task, Seconds t) const {
        auto const vessel = static_cast<std::size_t>(task.vessel);
        int here = 0;
        Seconds first_end = std::numeric_limits<Seconds>::max(), wait = t;
        for (auto const& stay : stays_[vessel]) {
            if (stay.to <= t || stay.job == j) continue;
            ++here;
            first_end = std::min(first_end, stay.to);
            if (!agree(task, problem_.jobs[stay.job].tasks[stay.task])) wait = std::max(wait, stay.to);
        }
        return here >= problem_.rooms[vessel] ? std::max(wait, first_end) : wait;
    }
    void lengthen(std::size_t j, std::size_t i, Seconds to) {
        ends_[j][i] = to;
        auto const vessel = problem_.jobs[j].tasks[i].vessel;
        if (vessel < 0) return;
        for (auto& stay : stays_[static_cast<std::size_t>(vessel)])
            if (stay.job == j && stay.task == i) stay.to = std::max(stay.to, to);
    }

    Problem const& problem_;
    Times const& planned_;
    std::vector<Next> next_;
    std::vector<std::vector<Seconds>> ends_;
    std::vector<std::vector<Stay>> stays_;
    Seconds hands_free_ = 0;
};

}  // namespace

Seconds heat_back(Task const& task, StageLength const& length) {
    bool const waits_for_heat = task.band && task.band->low.celsius > heated_c && length.exact() &&
                                length.likely > 0 && !task.under_way;
    return waits_for_heat ? heat_back_s : 0;
}

std::vector<Chance> chances(Problem const& problem, Times const& times,
                            std::vector<std::vector<StageLength>> const& lengths) {
    Supper supper(problem, times);
    // Each job in each supper.
    auto const ready_in = [&](bool prompt) {
        Draws draws(seed);
        std::vector<std::vector<Seconds>> ready(problem.jobs.size());
        for (int k = 0; k < suppers; ++k) {
            auto const one = supper.run(lengths, draws, prompt);
            for (std::size_t j = 0; j < one.size(); ++j) ready[j].push_back(one[j]);
        }
        for (auto& of : ready) std::ranges::sort(of);
        return ready;
    };
    auto const prompt = ready_in(true), by_hand = ready_in(false);
    std::vector<Chance> out;
    for (std::size_t j = 0; j < prompt.size(); ++j) {
        auto const late = std::ranges::upper_bound(prompt[j], problem.jobs[j].serve_at + a_minute);
        out.push_back({static_cast<double>(late - prompt[j].begin()) / suppers,
                       by_hand[j][static_cast<std::size_t>(0.1 * suppers)],
                       by_hand[j][static_cast<std::size_t>(0.9 * suppers)]});
    }
    return out;
}

}  // namespace ingle::schedule
