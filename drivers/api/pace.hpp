// How often a source that speaks unasked may be heard: a fast or a babbling one must not fill the logbook.
// Pure.
#pragma once

#include <algorithm>
#include <optional>

#include "drivers/reading/clock.hpp"

namespace ingle {

// Two readings a period in the long run, and a few more where several come at once after a pause: a source of
// the right period loses nothing by its jitter.
class Pace {
public:
    // Whether what came at `at` is taken.
    bool takes(Instant at, Span every) {
        if (last_) left_ = std::min(most, left_ + 2 * seconds(at - *last_) / seconds(every));
        last_ = at;
        if (left_ < 1) return false;
        left_ -= 1;
        return true;
    }

private:
    static constexpr double most = 16;
    double left_ = most;
    std::optional<Instant> last_;
};

}  // namespace ingle
