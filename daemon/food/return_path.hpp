// How a tip that was moved came to where it is now: at once, as one that is put into the food does, or
// gradually, as the air around it does. Owned by the judge of one core probe; pure; bounded memory.
#pragma once

#include <deque>
#include <optional>

namespace ingle {

class ReturnPath {
public:
    // A reading while the tip is away, s and degC; times must not go back.
    void take(double t, double celsius);
    // Since when it has been no further from `c` than `near_k`, by its newest readings.
    std::optional<double> since(double c, double near_k) const;
    void clear() { levels_.clear(); }

    // From `first` on, the next reading being `second`, it is at rest. Whether it came there within what a
    // tip takes to come to the temperature of what it is put into, or was never far from it. (s, degC)
    struct Reading {
        double t = 0, c = 0;
    };
    bool at_once(Reading first, Reading second) const;  // or it never left so
    // It left more quickly than any core moves; else it slid away, or it is a quick core that was taken for a
    // moved tip.
    bool left_at_once() const;
    // It came to `first` at once from what was warmer (colder: `from_warmer` false).
    bool came_at_once(Reading first, bool from_warmer) const;

private:
    struct Level {  // what was read from `first` to `last` s was about `c` degC
        double first = 0, last = 0, c = 0;
    };
    std::deque<Level> levels_;
};

}  // namespace ingle
