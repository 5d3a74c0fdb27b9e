// How far apart the values of a source come that speaks unasked, where that is plainly rarer than the kitchen
// file says: it is not silent between them. Pure.
#pragma once

#include <algorithm>
#include <array>
#include <optional>

#include "drivers/reading/clock.hpp"

namespace ingle {

class Rhythm {
public:
    void heard(Instant at) {
        if (last_ && at > *last_) {
            newest_[static_cast<std::size_t>(next_)] = at - *last_;
            next_ = (next_ + 1) % kept;
            known_ = std::min(known_ + 1, kept);
        }
        last_ = at;
    }
    // Between two values: what was said, or what the last few show. A single pause is no rhythm.
    Span between(Span said) const {
        if (known_ < enough) return said;
        auto sorted = newest_;
        std::sort(sorted.begin(), sorted.begin() + known_);
        return std::clamp(sorted[static_cast<std::size_t>((known_ - 1) / 2)], said, std::max(said, longest));
    }

private:
    static constexpr int kept = 5, enough = 2;
    static constexpr Span longest = std::chrono::minutes(15);
    std::array<Span, kept> newest_{};
    int next_ = 0, known_ = 0;
    std::optional<Instant> last_;
};

}  // namespace ingle
