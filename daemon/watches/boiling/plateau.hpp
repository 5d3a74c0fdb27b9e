// A boiling plateau being recognised: it stands flat, and stopped rising to do so. Where the height is known,
// near enough to where this liquid should boil; where it is not, anywhere that people cook. A pot that comes
// to rest in a balance slows down for a quarter of an hour; one that boils stops at once. For
// the boiling watch; pure.
#pragma once

#include <algorithm>
#include <cmath>
#include <optional>

#include "daemon/conditioning/followed.hpp"
#include "daemon/model/memory.hpp"

namespace ingle {

class Plateau {
public:
    static constexpr double near_k = 3.0;        // a probe and a barometer together may be this far out
    static constexpr double lowest_boil_c = 80;  // some 6000 m
    static constexpr double stands_k = 0.35;     // within four minutes: a probe wanders by as much

    struct Place {
        double boiling_c = 100;     // where it should boil
        bool height_known = false;  // or that is only sea level's
        bool in_band = false;       // somebody may hold it there
        bool rise_read = true;      // there were readings on its way
    };

    // Once a second, with the last quarter of an hour of the level. `rose_lately`: fast, within ten minutes.
    template <int N>
    void step(Past<N> const& past, bool rose_lately, Place const& place) {
        auto const now = past.mean(120, 0), then = past.mean(360, 240);
        if (!now || !then) return;
        moved_k_ = *now - *then;
        if (std::abs(moved_k_) > 2 * stands_k) {
            flat_s_ = 0;
            stopped_ = false;
        } else if (stands()) {
            if (++flat_s_ <= 120) began_at_ = *now;  // the mean is past the rise
            auto const earlier = past.mean(480, 360), earliest = past.mean(720, 600);
            bool const slowly =
                earlier && earliest && *earlier - *earliest > 3 * std::max(std::abs(moved_k_), 0.16);
            stopped_ = stopped_ || (slowly && place.rise_read) || rose_lately;
        } else {  // a slow climb wavers, and seems to stand now and then
            flat_s_ = std::max(0, flat_s_ - 1);
        }
        if (level_)
            follow(*now);
        else if (recognised(*now, place))
            level_ = *now;
    }
    bool stands() const { return std::abs(moved_k_) < stands_k; }
    std::optional<double> level() const { return level_; }  // degC, while it boils or has just left it

    void remember(Memory& memory, std::string const& prefix) const {
        if (level_) memory.put(prefix + "plateau", *level_);
        memory.put(prefix + "plateau.began-at", began_at_);
        memory.put(prefix + "plateau.moved", moved_k_);
        memory.put(prefix + "plateau.flat-s", std::int64_t{flat_s_});
        memory.put(prefix + "plateau.stopped", std::int64_t{stopped_});
    }
    void recall(Memory const& memory, std::string const& prefix) {
        level_ = memory.number(prefix + "plateau");
        began_at_ = memory.number(prefix + "plateau.began-at").value_or(0);
        moved_k_ = memory.number(prefix + "plateau.moved").value_or(1);
        flat_s_ = static_cast<int>(memory.integer(prefix + "plateau.flat-s").value_or(0));
        stopped_ = memory.integer(prefix + "plateau.stopped").value_or(0) != 0;
    }

private:
    static constexpr int settle_s = 45, unseen_rise_s = 300, far_s = 300;
    static constexpr double farther_s_per_k = 100;
    static constexpr double beside_k = 1.0;    // so near to the boil a pot does not stand otherwise
    static constexpr double wander_k = 0.4;    // of a plateau where the height is not known
    static constexpr double left_below_k = 5;  // it has cooled down

    bool recognised(double level, Place const& place) const {
        if (std::abs(level - place.boiling_c) < beside_k && flat_s_ >= unseen_rise_s) return true;
        if (!stopped_) return false;
        // The further from where it should boil, the longer it must stand.
        double const off_k = std::abs(level - place.boiling_c);
        if (off_k < near_k) return flat_s_ >= settle_s + farther_s_per_k * std::max(0.0, off_k - beside_k);
        // A burner that was turned down in time stops a pot too.
        return !place.height_known && !place.in_band && level > lowest_boil_c && level < place.boiling_c &&
               flat_s_ >= far_s && std::abs(level - began_at_) < wander_k;
    }
    // Goes with a stock that thickens, not with a pot that runs dry; and down again at once.
    void follow(double level) {
        double const pull = level < *level_ ? 1.0 / 60 : stands() ? 1.0 / 300 : 0;
        *level_ += pull * (level - *level_);
        if (level < *level_ - left_below_k) level_.reset();
    }

    std::optional<double> level_;
    double moved_k_ = 1, began_at_ = 0;  // K within four minutes; degC when it began to stand
    int flat_s_ = 0;
    bool stopped_ = false;  // it rose, and does not any more
};

}  // namespace ingle
