// What a broker keeps of the kitchen, as topics and payloads; described in asyncapi.json. Pure; any thread.
#pragma once

#include <string>
#include <vector>

#include "daemon/model/view.hpp"

namespace ingle::mqtt {

struct Topic {
    std::string name;      // below the channel's own: "vessel/stockpot"
    std::string payload;   // JSON
    std::string standing;  // what is published at once when it changes; the rest may wait for its interval
    bool kept = true;      // false: a temperature whose time is not known, which must not outlive the moment
};

std::vector<Topic> topics_of(View const& view);

// That a broker keeps `payload` for a vessel or a dish of this kitchen.
bool is_of_kitchen(std::string const& payload, std::string const& kitchen);

}  // namespace ingle::mqtt
