// How long, and how deep, an event that explains it (a door, cold liquid) may keep a vessel's band alarms
// quiet. Whatever is outside its band for longer than this is heard, whatever happened meanwhile. Pure.
#pragma once

#include <algorithm>
#include <cstdint>
#include <string>

#include "daemon/model/memory.hpp"

namespace ingle {

class BandSilence {
public:
    static constexpr double most_s = 20 * 60;  // altogether, of what came back since: a third of the time
    static constexpr int deep_s = 8 * 60;      // so far outside, and not half-way back
    static constexpr double deep_k = 5;        // and a whole band

    // Once a second. `asked`: a watch names such an event. `outside_k`: how far the level is outside the
    // band, 0 inside. True: quiet.
    bool step(bool asked, double outside_k, double width_k) {
        spent_s_ =
            outside_k > 0 && asked ? std::min(spent_s_ + 1, most_s + 1) : std::max(0.0, spent_s_ - 1.0 / 3);
        if (!asked) {
            deepest_k_ = 0;
            deep_for_s_ = 0;
            return false;
        }
        deepest_k_ = std::max(deepest_k_, outside_k);
        bool const deep = outside_k > std::max(width_k, deep_k) && outside_k > 0.5 * deepest_k_;
        deep_for_s_ = deep ? deep_for_s_ + 1 : 0;
        return spent_s_ <= most_s && deep_for_s_ <= deep_s;
    }
    void remember(Memory& memory, std::string const& prefix) const {
        if (spent_s_ <= 0) return;
        memory.put(prefix + "spent-s", spent_s_);
        memory.put(prefix + "deepest-k", deepest_k_);
        memory.put(prefix + "deep-for-s", std::int64_t{deep_for_s_});
    }
    void recall(Memory const& memory, std::string const& prefix) {
        spent_s_ = std::clamp(memory.number(prefix + "spent-s").value_or(0), 0.0, most_s + 1);
        deepest_k_ = std::max(0.0, memory.number(prefix + "deepest-k").value_or(0));
        deep_for_s_ = static_cast<int>(
            std::clamp<std::int64_t>(memory.integer(prefix + "deep-for-s").value_or(0), 0, 86'400));
    }

private:
    double spent_s_ = 0, deepest_k_ = 0;
    int deep_for_s_ = 0;
};

}  // namespace ingle
