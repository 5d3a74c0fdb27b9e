// What a channel's keys say of when it may be used, whatever its kind: declared and read here. Pure; any
// thread.
#pragma once

#include <optional>
#include <span>
#include <string>

#include "config/settings.hpp"
#include "drivers/api/options.hpp"

namespace ingle {

struct DeliveryPolicy {
    struct Quiet {
        int from = 0, to = 0;  // minutes since local midnight; from > to: over midnight
        bool holds(int minute) const {
            return from < to ? minute >= from && minute < to : minute >= from || minute < to;
        }
    };
    std::optional<Quiet> quiet;        // what is neither of high priority nor asked for waits
    std::optional<int> most_per_hour;  // messages; what is not of high priority waits
    std::optional<int> sign_of_life;   // minutes since local midnight: once a day a word that it watches
};

std::span<OptionInfo const> policy_options();    // besides the kind's own
DeliveryPolicy policy_of(FreeKeys const& keys);  // throws WrongOption
std::string in_words(
    DeliveryPolicy const& policy);    // ", quiet from 22:00 to 06:30"; "" if it asks for nothing
std::string clock_text(int minutes);  // "06:30"

// Minutes since local midnight. A daemon that was off for a while at that time still gives its sign, within
// an hour: later its absence was the news. `knows_earlier`: the signs of earlier runs are known; without them
// it waits for them, two minutes at most.
bool sign_of_life_due(int at, int minute, bool knows_earlier);

}  // namespace ingle
