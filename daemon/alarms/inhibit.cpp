#include "daemon/alarms/inhibit.hpp"

namespace ingle {

namespace {

template <class Holds>
std::string_view find_cause(AlarmRecord const& record, AlarmRecords const& all, Holds holds) {
    auto const there = [&](std::string_view name, Subject subject) {
        if (name == record.alarm.type->name && subject == record.alarm.subject) return false;
        auto const found = all.find({name, subject});
        return found != all.end() && holds(found->second);
    };
    for (std::string_view const name : record.alarm.type->suppressed_by) {
        if (there(name, record.alarm.subject)) return name;
        for (int const probe : record.probes)
            if (there(name, {SubjectKind::probe, probe})) return name;
    }
    return {};
}

}  // namespace

std::string_view cause_of(AlarmRecord const& record, AlarmRecords const& all) {
    if (!record.design_mute.empty()) return record.design_mute;
    return find_cause(record, all, [](AlarmRecord const& cause) { return cause.alarm.active; });
}

std::string_view coming_cause_of(AlarmRecord const& record, AlarmRecords const& all) {
    return find_cause(record, all, [](AlarmRecord const& cause) {
        return !cause.alarm.active && cause.truth == Truth::present;
    });
}

}  // namespace ingle
