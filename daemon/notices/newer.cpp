#include "daemon/notices/newer.hpp"

namespace ingle {
namespace {

bool is_of_an_alarm(Notice const& notice) {
    return !notice.alarm.empty() &&
           (notice.kind == "raised" || notice.kind == "reminder" || notice.kind == "cleared");
}

}  // namespace

Newer newer_word(Notice const& newer, Notice const& older) {
    bool const same = newer.alarm == older.alarm && newer.subject == older.subject;
    if (!same || !is_of_an_alarm(newer) || !is_of_an_alarm(older)) return Newer::beside;
    return newer.kind == "cleared" && older.kind == "raised" ? Newer::its_end : Newer::in_its_place;
}

}  // namespace ingle
