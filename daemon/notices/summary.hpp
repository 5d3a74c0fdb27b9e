// Several notices that waited, or one about several alarms, as one message that says of each what is so now.
// Pure.
#pragma once

#include <cstdint>
#include <set>
#include <string_view>
#include <vector>

#include "daemon/notices/notice.hpp"

namespace ingle {

struct Waited {
    Notice const* notice = nullptr;
    bool was_held = false;  // by quiet hours or a rate limit
};

// `waited`: at least one, the oldest first. `open`: the numbers of the alarms that are; nullptr: not known.
// `today`: "2026-11-26", local; "" = not known.
Notice summary_of(std::vector<Waited> const& waited, std::set<std::int64_t> const* open,
                  std::string_view today);

// Whether it tells of several alarms, and some of them are not open any more.
bool is_partly_over(Notice const& notice, std::set<std::int64_t> const& open);

}  // namespace ingle
