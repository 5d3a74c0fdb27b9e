// A message about alarms as it leaves the house: names and wall times are resolved, nothing refers to the
// core. Made by daemon/run from a Tell. Plain values; any thread.
#pragma once

#include <cstdint>
#include <memory>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "daemon/notices/chart.hpp"

namespace ingle {

struct NoticeLinks {  // addresses; "" = there is none
    std::string page, acknowledge, shelve;
};

// One of the alarms that a notice tells of, with the sentence about it.
struct NoticePart {
    std::int64_t number = 0;
    std::string alarm, subject, priority;
    std::optional<std::string> since;  // as Notice::since
    std::string text;
};

struct Notice {
    std::string id;    // the same in every attempt, so that a receiver can drop a repetition
    std::string kind;  // "raised", "cleared", "reminder", "summary", "test", "heartbeat"
    std::string alarm, subject, priority;     // of the most important alarm; several are told in the text
    std::optional<std::string> since, at;     // ISO 8601 with offset; empty: the wall time is not known
    bool late = false;                        // delivered long after `at`
    std::string text;                         // what the person reads; may have several lines
    bool single = false;                      // about one alarm only; for the queue, not told
    bool asked_for = false;                   // for its time, by the cook: quiet hours do not hold it back
    std::vector<std::int64_t> alarms{};       // their numbers, as far as they are open; not told, not stored
    std::shared_ptr<Chart const> chart{};     // of its subject, for a channel that shows it; as `alarms`
    std::vector<std::int64_t> link_alarms{};  // that its links may act on: as `alarms`, but known for ever
    std::vector<NoticePart> parts{};          // where it is of several alarms: each; stored, not told
    NoticeLinks links{};                      // made anew for each attempt, and stored nowhere
};

// 0 what is high, 1 what is medium, 2 what is low or has no priority.
std::size_t level_of(std::string_view priority);

std::string to_json(Notice const& notice);      // the body of the contract, one line
std::string stored_json(Notice const& notice);  // for the outbox: what is sent may be made of it again
std::optional<Notice> notice_from_json(std::string_view text);  // inverse; empty if it is damaged

}  // namespace ingle
