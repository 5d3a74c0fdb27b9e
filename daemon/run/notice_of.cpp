// What leaves the house of what the core says.
#include <algorithm>
#include <string>
#include <utility>
#include <vector>

#include "daemon/model/group_text.hpp"
#include "daemon/run/names.hpp"
#include "daemon/run/notice_desk.hpp"
#include "daemon/run/own_trouble.hpp"

namespace ingle {

Alarm const& most_important(Tell const& tell) {
    return *std::ranges::max_element(tell.alarms, {}, [](Alarm const& alarm) { return alarm.priority; });
}

Notice notice_of(Settings const& settings, Tell const& tell, std::optional<ClockAnchor> const& clock,
                 TimeZone const& zone, std::string id) {
    Notice notice;
    notice.id = std::move(id);
    notice.kind = tell.kind;
    notice.text = tell.text;
    notice.single = tell.alarms.size() == 1;
    for (auto const& alarm : tell.alarms) notice.alarms.push_back(alarm.id);
    notice.link_alarms = notice.alarms;
    auto const wall = [&](Instant at) {
        auto text = wall_text(at, clock, zone);
        return text.empty() ? std::nullopt : std::optional(std::move(text));
    };
    notice.at = wall(tell.at);
    notice.asked_for = std::ranges::any_of(tell.alarms, [](Alarm const& alarm) {
        return alarm.type && alarm.type->asked_for && !alarm.can_wait;
    });
    if (tell.alarms.empty()) return notice;
    auto const part_of = [&](Alarm const& alarm) {
        auto text = alarm.text;
        if (alarm.type->judges_food) text += "\n" + std::string(food_safety_caution);
        return NoticePart{alarm.id,
                          std::string(alarm.type->name),
                          name_of(settings, alarm.subject),
                          std::string(to_word(alarm.priority)),
                          wall(alarm.since),
                          std::move(text)};
    };
    auto const main = part_of(most_important(tell));
    notice.alarm = main.alarm;
    notice.subject = main.subject;
    notice.priority = main.priority;
    notice.since = main.since;
    if (!notice.single)
        for (auto const& alarm : tell.alarms) notice.parts.push_back(part_of(alarm));
    return notice;
}

// Without what it says of the trouble of the channel that it goes to, where it says other things, too.
Tell without_trouble_of(std::string const& channel, Tell const& tell) {
    Tell out = tell;
    bool const fewer = std::erase_if(out.alarms, [&](Alarm const& alarm) {
        return alarm.type && alarm.type->name == "not-delivered" && tell.alarms.size() > 1 &&
               without_own_trouble(alarm.text, channel).find(own_trouble(channel)) != std::string::npos;
    });
    for (auto& alarm : out.alarms)
        if (alarm.type && alarm.type->name == "not-delivered")
            alarm.text = without_own_trouble(alarm.text, channel);
    out.text = without_own_trouble(out.text, channel);
    if (!fewer) return out;
    std::vector<std::string> sentences;
    for (auto const& alarm : out.alarms) sentences.push_back(alarm.text);
    out.text = group_text(sentences);
    if (std::ranges::any_of(out.alarms, [](Alarm const& alarm) { return alarm.type->judges_food; }))
        out.text += "\n" + std::string(food_safety_caution);
    return out;
}

}  // namespace ingle
