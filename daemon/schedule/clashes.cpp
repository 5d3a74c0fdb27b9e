#include "daemon/schedule/clashes.hpp"

#include <algorithm>

namespace ingle::schedule {
namespace {

struct Stay {
    Place place;
    Interval when;
};

Task const& task_at(Problem const& problem, Place place) {
    return problem.jobs[static_cast<std::size_t>(place.job)].tasks[static_cast<std::size_t>(place.task)];
}

class Search {
public:
    Search(Problem const& problem, Seek seek) : problem_(problem), seek_(seek) {}

    void look(std::vector<Stay>& stays, int vessel) {
        std::ranges::sort(stays, {}, [](Stay const& one) { return one.when.from; });
        here_.clear();
        for (auto const& stay : stays) {
            std::erase_if(here_, [&](Stay const& one) { return one.when.to <= stay.when.from; });
            if (vessel < 0 ? !here_.empty() : !meet(stay, vessel) && is_full_for(stay, vessel))
                consider_all(stay, vessel);
            here_.push_back(stay);
        }
    }
    std::optional<Clash> found;

private:
    // Two that do not agree; true: there was such a pair.
    bool meet(Stay const& stay, int vessel) {
        bool any = false;
        for (auto const& one : here_)
            if (!agree(task_at(problem_, one.place), task_at(problem_, stay.place)))
                consider(
                    {vessel, {one.place, stay.place}, {stay.when.from, std::min(one.when.to, stay.when.to)}}),
                    any = true;
        return any;
    }
    bool is_under_way(Stay const& stay) const { return task_at(problem_, stay.place).under_way; }
    bool is_full_for(Stay const& stay, int vessel) const {
        if (here_.size() < static_cast<std::size_t>(problem_.rooms[static_cast<std::size_t>(vessel)]))
            return false;
        return !is_under_way(stay) ||
               !std::ranges::all_of(here_, [&](Stay const& one) { return is_under_way(one); });
    }
    void consider_all(Stay const& stay, int vessel) {
        Clash clash{vessel, {}, stay.when};
        for (auto const& one : here_)
            clash.tasks.push_back(one.place), clash.when.to = std::min(clash.when.to, one.when.to);
        clash.tasks.push_back(stay.place);
        consider(std::move(clash));
    }
    void consider(Clash clash) {
        bool const better = !found || (seek_ == Seek::earliest ? clash.when.from < found->when.from
                                                               : clash.when.to > found->when.to);
        if (better) found = std::move(clash);
    }

    Problem const& problem_;
    Seek seek_;
    std::vector<Stay> here_;
};

}  // namespace

std::optional<Clash> find_clash(Problem const& problem, Bounds const& bounds,
                                std::vector<Seconds> const& begins, Seek seek) {
    std::vector<std::vector<Stay>> stays(problem.rooms.size());
    std::vector<Stay> hands;
    for (std::size_t j = 0; j < problem.jobs.size(); ++j)
        for (std::size_t i = 0; i < problem.jobs[j].tasks.size(); ++i) {
            auto const& task = problem.jobs[j].tasks[i];
            Place const place{static_cast<int>(j), static_cast<int>(i)};
            auto const x = bounds.number_of(place);
            if (task.hands > 0) hands.push_back({place, {begins[x], begins[x] + task.hands}});
            if (task.vessel >= 0 && begins[x + 1] > begins[x])
                stays[static_cast<std::size_t>(task.vessel)].push_back({place, {begins[x], begins[x + 1]}});
        }
    Search search(problem, seek);
    search.look(hands, -1);
    for (std::size_t vessel = 0; vessel < stays.size(); ++vessel)
        search.look(stays[vessel], static_cast<int>(vessel));
    return search.found;
}

std::vector<Order> ways_out(Problem const& problem, Clash const& clash) {
    std::vector<Order> out;
    for (auto const first : clash.tasks) {
        auto const& task = task_at(problem, first);
        Place const over{first.job, first.task + 1};
        for (auto const then : clash.tasks)
            if (first != then)
                out.push_back(clash.vessel < 0 ? Order{first, then, task.hands} : Order{over, then, 0});
        if (clash.vessel >= 0 && task.least == 0) out.push_back({over, first, 0});
    }
    return out;
}

}  // namespace ingle::schedule
