#include "daemon/alarms/inhibit.hpp"

#include <algorithm>

namespace ingle {

namespace {

template <class Holds>
std::string_view find_cause(AlarmRecord const& record, AlarmRecords const& all, Holds holds) {
    auto const there = [&](std::string_view name, Subject subject) {
        if (name == record.alarm.type->name && subject == record.alarm.subject) return false;
        auto const found = all.find({name, subject});
        if (found == all.end() || !holds(found->second)) return false;
        if (priority_of(record) < Priority::high || priority_of(found->second) == Priority::high) return true;
        // The cause will take its priority over; but what was told already stays.
        return !record.alarm.active || !record.alarm.muted_by.empty();
    };
    for (std::string_view const name : record.alarm.type->suppressed_by) {
        if (there(name, record.alarm.subject)) return name;
        for (int const probe : record.probes)
            if (there(name, {SubjectKind::probe, probe})) return name;
    }
    return {};
}

}  // namespace

Priority priority_of(AlarmRecord const& record) {
    return record.alarm.active ? std::max(record.alarm.priority, record.priority) : record.priority;
}

std::string_view cause_of(AlarmRecord const& record, AlarmRecords const& all, Instant now) {
    if (!record.design_mute.empty() && priority_of(record) < Priority::high &&
        now - record.design_since.value_or(now) < longest_by_design)
        return record.design_mute;
    return find_cause(record, all, [](AlarmRecord const& cause) { return cause.alarm.active; });
}

std::string_view coming_cause_of(AlarmRecord const& record, AlarmRecords const& all) {
    return find_cause(record, all, [](AlarmRecord const& cause) {
        return !cause.alarm.active && cause.truth == Truth::present;
    });
}

}  // namespace ingle
