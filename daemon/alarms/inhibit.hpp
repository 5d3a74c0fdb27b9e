// Which alarm is the cause of which: the consequences are muted, not forgotten. Pure.
#pragma once

#include <map>
#include <string_view>
#include <utility>

#include "daemon/alarms/record.hpp"

namespace ingle {

using AlarmKey = std::pair<std::string_view, Subject>;
using AlarmRecords = std::map<AlarmKey, AlarmRecord>;

// The name of the cause that mutes this alarm now: what its watch said, or an active alarm of its type's
// `suppressed_by` on the same subject or on a probe that the subject is judged by. "" = none. A cause that is
// itself shelved or out of service is still the cause. A high alarm is muted by nothing but a high alarm; a
// fault of the probe that it is judged by takes its priority over instead (see AlarmDesk::lend_priority).
// What a watch says of its own situation mutes for `longest_by_design` without a break at most.
Priority priority_of(AlarmRecord const& record);  // the worse of what was told of it and what holds now
std::string_view cause_of(AlarmRecord const& record, AlarmRecords const& all, Instant now);
constexpr Span longest_by_design = std::chrono::minutes(20);

// The same, but of a cause that is present and only waits for its own delay: a consequence with a shorter
// delay waits for it, so that one cause gives one alarm.
std::string_view coming_cause_of(AlarmRecord const& record, AlarmRecords const& all);

}  // namespace ingle
