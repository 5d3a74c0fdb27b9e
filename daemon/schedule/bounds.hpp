// Between which instants each stage can begin: what follows from the lengths, the serving times, the nights
// and an order of stages. Bounds on differences have a latest and an earliest solution, which are each
// simultaneously the latest and the earliest of every begin. Pure.
#pragma once

#include <utility>
#include <vector>

#include "daemon/schedule/problem.hpp"

namespace ingle::schedule {

// A begin or, at task == the number of tasks, when the dish is ready.
struct Place {
    int job = 0, task = 0;
    friend bool operator==(Place, Place) = default;
};
struct Order {  // `after` is at least `gap` later than `before`
    Place before, after;
    Seconds gap = 0;
};

enum class Serving { on_time, not_before };

class Bounds {
public:
    // `not_before`: a dish may be ready later than its serving time, up to `horizon`.
    Bounds(Problem const& problem, Serving serving, Seconds horizon);

    struct Range {
        std::vector<Seconds> low, high;  // by number_of
    };
    // What follows without any order; empty: nothing can be.
    std::optional<Range> range() const;
    void add(Order const& order);
    void drop();  // the order that was added last
    // Tightens by the order that was added last; false: nothing can be.
    bool tighten(Range& range) const;

    std::size_t number_of(Place place) const {
        return first_[static_cast<std::size_t>(place.job)] + static_cast<std::size_t>(place.task);
    }
    Times times(std::vector<Seconds> const& values) const;

private:
    struct Edge {
        std::size_t to;
        Seconds gap;
    };
    bool spread(Range& range, std::vector<std::size_t> raised, std::vector<std::size_t> lowered) const;
    Seconds past_nights(std::size_t number, Seconds t) const;    // the first possible one from t on
    Seconds before_nights(std::size_t number, Seconds t) const;  // the last possible one up to t

    Problem const& problem_;
    Serving serving_;
    Seconds horizon_;
    std::vector<std::size_t> first_;
    std::vector<Seconds> hands_;                     // -1: nobody needs to be there
    std::vector<std::vector<Edge>> after_, before_;  // x[to] >= x + gap; x[to] <= x - gap
    std::vector<std::pair<std::size_t, std::size_t>> added_;
};

}  // namespace ingle::schedule
