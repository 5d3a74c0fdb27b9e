// A boiling plateau being recognised: flat, and near enough to where this liquid should boil. For watches;
// pure.
#pragma once

#include <cmath>
#include <optional>

#include "daemon/model/memory.hpp"
#include "daemon/watches/watch.hpp"

namespace ingle {

class Plateau {
public:
    static constexpr double near_k = 3.0;  // a probe and a barometer together may be this far out

    // Once a second: level degC, slope K/s, where it should boil.
    void step(double level, double slope, double boiling_c) {
        bool const near = std::abs(level - boiling_c) < near_k + (level_ ? 3.0 : 0.0);
        bool const flat = std::abs(slope) < 0.25 / 60;
        if (near && flat)
            ++flat_s_;
        else if (!near || std::abs(slope) > 0.6 / 60)
            flat_s_ = 0;
        if (level_) {
            // Follows a stock that thickens, not a pot that runs dry; and down again at once.
            double const pull = level < *level_ ? 1.0 / 60 : flat ? 1.0 / 300 : 0;
            *level_ += pull * (level - *level_);
            if (level < boiling_c - near_k - 2) level_.reset();
        } else if (flat_s_ >= settle_s) {
            level_ = level;
        }
    }
    std::optional<double> level() const { return level_; }  // degC, while it boils or has just left it

    void remember(Memory& memory, std::string const& prefix) const {
        if (level_) memory.put(prefix + "plateau", *level_);
    }
    void recall(Memory const& memory, std::string const& prefix) {
        level_ = memory.number(prefix + "plateau");
    }

private:
    static constexpr int settle_s = 150;
    std::optional<double> level_;
    int flat_s_ = 0;
};

}  // namespace ingle
