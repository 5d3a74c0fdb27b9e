#include "daemon/notices/policy.hpp"

#include <cstdint>
#include <variant>

#include "daemon/notices/notifier.hpp"

namespace ingle {
namespace {

constexpr double most_messages_per_hour = 3600;
constexpr OptionInfo options[] = {
    {"quiet",
     OptionKind::text,
     false,
     "",
     {},
     0,
     0,
     "two times of the day, [\"22:00\", \"06:30\"]: in between only what is of high priority is sent, and a "
     "timer, a reminder or the end of a stage that needs the cook when it is due"},
    {"most-per-hour",
     OptionKind::integer,
     false,
     "",
     {},
     1,
     most_messages_per_hour,
     "more messages are held back and told as one; what is of high priority never is"},
    {"sign-of-life",
     OptionKind::text,
     false,
     "",
     {},
     0,
     0,
     "a time of the day, \"08:00\": every day a message that this kitchen is watched"},
};

int minute_of(std::string const& key, std::string const& text, std::string const& form) {
    bool const shaped = text.size() == 5 && text[2] == ':' && text.rfind(':') == 2 &&
                        text.find_first_not_of("0123456789:") == std::string::npos;
    int const hour = shaped ? (text[0] - '0') * 10 + text[1] - '0' : 24;
    int const minute = shaped ? (text[3] - '0') * 10 + text[4] - '0' : 60;
    if (hour > 23 || minute > 59) throw WrongOption(key, "holds what is no time of the day", form);
    return hour * 60 + minute;
}

}  // namespace

std::span<OptionInfo const> policy_options() {
    return options;
}

DeliveryPolicy policy_of(FreeKeys const& keys) {
    DeliveryPolicy policy;
    if (keys.contains("quiet")) {
        std::string const form = "two times of the day, [\"22:00\", \"06:30\"]";
        auto const times = texts_of(keys, "quiet");
        if (times.size() != 2) throw WrongOption("quiet", "is no list of two times", form);
        policy.quiet = {minute_of("quiet", times[0], form), minute_of("quiet", times[1], form)};
        if (policy.quiet->from == policy.quiet->to)
            throw WrongOption("quiet", "begins and ends at the same time",
                              "two different times; least = \"high\" where it is always to be quiet");
    }
    if (auto const most = keys.find("most-per-hour"); most != keys.end())
        if (auto const* number = std::get_if<std::int64_t>(&most->second.value))
            policy.most_per_hour = static_cast<int>(*number);
    if (keys.contains("sign-of-life"))
        policy.sign_of_life =
            minute_of("sign-of-life", text_of(keys, "sign-of-life"), "a time like \"08:00\"");
    return policy;
}

bool sign_of_life_due(int at, int minute, bool knows_earlier) {
    constexpr int latest = 60, patience = 2;
    return minute >= at + (knows_earlier ? 0 : patience) && minute < at + latest;
}

std::string clock_text(int minutes) {
    auto const two = [](int n) { return (n < 10 ? "0" : "") + std::to_string(n); };
    return two(minutes / 60) + ":" + two(minutes % 60);
}

std::string in_words(DeliveryPolicy const& policy) {
    std::string text;
    if (policy.quiet)
        text += ", quiet from " + clock_text(policy.quiet->from) + " to " + clock_text(policy.quiet->to) +
                " but for high, timers, reminders and ends of stages that need you";
    if (policy.most_per_hour)
        text += ", at most " + std::to_string(*policy.most_per_hour) + " an hour but for high";
    if (policy.sign_of_life) text += ", a sign of life at " + clock_text(*policy.sign_of_life);
    return text;
}

}  // namespace ingle
