// Two probes that came to rest at each other's level in one moment: their tips or their plugs may be
// exchanged. One per probe; pure.
#pragma once

#include <array>
#include <cmath>
#include <optional>
#include <span>
#include <vector>

#include "daemon/watches/watch.hpp"

namespace ingle {

class Exchanged {
public:
    struct With {
        int probe = -1;
        double mine = 0, its = 0;  // degC, before
    };
    void take(std::span<Signal const> signals) {
        if (every_s_ == 0) {
            levels_.resize(signals.size(), none());
            newest_ = (newest_ + 1) % slots;
            for (std::size_t p = 0; p < signals.size(); ++p)
                levels_[p][newest_] =
                    signals[p].fresh && signals[p].every <= rarest ? signals[p].celsius : std::nan("");
        }
        every_s_ = (every_s_ + 1) % slot_s;
    }
    void forget() {
        levels_.clear();
        every_s_ = 0;
    }
    std::optional<With> with(int own) const {
        if (static_cast<std::size_t>(own) >= levels_.size()) return std::nullopt;
        for (std::size_t p = 0; p < levels_.size(); ++p) {
            if (static_cast<int>(p) == own) continue;
            for (std::size_t ago = 3; ago + 1 < slots; ++ago)
                if (auto const before = swapped(levels_[static_cast<std::size_t>(own)], levels_[p], ago))
                    return With{static_cast<int>(p), before->first, before->second};
        }
        return std::nullopt;
    }

private:
    static constexpr int slot_s = 5;
    static constexpr Span rarest = std::chrono::seconds(15);  // between readings: else it is no moment
    static constexpr std::size_t slots = 22;
    static constexpr double least_apart_k = 10, alike_share = 0.08, rest_k = 1.5;
    using Levels = std::array<double, slots>;
    static Levels none() {
        Levels levels;
        levels.fill(std::nan(""));
        return levels;
    }
    double at(Levels const& levels, std::size_t ago) const { return levels[(newest_ + slots - ago) % slots]; }
    // Both at rest before and now; what is missing compares to nothing.
    std::optional<std::pair<double, double>> swapped(Levels const& a, Levels const& b,
                                                     std::size_t ago) const {
        double const a0 = at(a, ago), b0 = at(b, ago), apart = std::abs(a0 - b0);
        auto const near = [&](double one, double other) {
            return std::abs(one - other) <= std::max(rest_k, alike_share * apart);
        };
        bool const before = near(a0, at(a, ago + 1)) && near(b0, at(b, ago + 1));
        bool const now = near(at(a, 0), at(a, 1)) && near(at(b, 0), at(b, 1));
        bool const crossed = near(at(a, 0), b0) && near(at(b, 0), a0);
        if (!(apart >= least_apart_k && before && now && crossed)) return std::nullopt;
        return std::pair(a0, b0);
    }

    std::vector<Levels> levels_;
    std::size_t newest_ = 0;
    int every_s_ = 0;
};

}  // namespace ingle
