#include "tests/scenarios/restarts.hpp"

#include <algorithm>
#include <set>

#include "daemon/kitchen/kitchen.hpp"

namespace ingle::scenarios {
namespace {

struct Message {
    double at_s = 0;
    bool raised = false;
    std::string alarm;
    Subject subject;
    Priority priority{};
    bool used = false;
};

// What one channel that carries everything is sent, reminders left out.
std::vector<Message> told(Scenario const& scenario, std::set<int> const& restarts) {
    auto settings = scenario.settings;
    settings.channels = {{.name = "phone", .kind = "webhook"}};
    Kitchen kitchen(settings, second(0));
    Effects effects;
    std::vector<Message> messages;
    std::size_t next_command = 0;
    for (int s = 0; s < scenario.length_s(); ++s) {
        if (restarts.contains(s)) {
            auto const memory = kitchen.remember();
            kitchen = Kitchen(settings, second(s));
            kitchen.recall(memory, second(s), effects);
        }
        while (next_command < scenario.commands.size() && scenario.commands[next_command].first <= s)
            kitchen.command(second(s), scenario.commands[next_command++].second, effects);
        for (std::size_t probe = 0; probe < scenario.readings.size(); ++probe)
            if (auto const& reading = scenario.readings[probe][static_cast<std::size_t>(s)])
                kitchen.take(static_cast<int>(probe), *reading, effects);
        kitchen.advance(second(s), effects);
        for (auto const& effect : effects) {
            auto const* tell = std::get_if<Tell>(&effect);
            if (!tell || tell->kind == "reminder" || tell->reason == "worse") continue;
            for (auto const& alarm : tell->alarms)
                messages.push_back({seconds(tell->at - second(0)), tell->kind == "raised",
                                    std::string(alarm.type->name), alarm.subject, alarm.priority});
        }
        effects.clear();
    }
    return messages;
}

// Takes the message of the undisturbed run that this one stands for.
bool matches(Message const& disturbed, std::vector<Message>& undisturbed) {
    double const later = disturbed.raised ? raised_later_s : cleared_later_s;
    for (auto& other : undisturbed) {
        if (other.used || other.raised != disturbed.raised || other.alarm != disturbed.alarm ||
            other.subject != disturbed.subject)
            continue;
        if (disturbed.at_s < other.at_s - 60 || disturbed.at_s > other.at_s + later) continue;
        return other.used = true;
    }
    return false;
}

}  // namespace

void RestartScore::add(RestartScore const& other) {
    runs += other.runs;
    restarts += other.restarts;
    told += other.told;
    false_clear += other.false_clear;
    raised_anew += other.raised_anew;
    not_raised += other.not_raised;
    not_cleared += other.not_cleared;
    low += other.low;
    offences.insert(offences.end(), other.offences.begin(), other.offences.end());
}

RestartScore compare_with_restarts(Scenario const& scenario, int restarts) {
    Chance chance(scenario.seed * 7919 + 17);
    std::set<int> moments;
    while (static_cast<int>(moments.size()) < restarts)
        moments.insert(static_cast<int>(chance.uniform(1, scenario.length_s() - 2)));
    auto undisturbed = told(scenario, {});
    RestartScore score;
    score.runs = 1;
    score.restarts = restarts;
    score.told = static_cast<int>(undisturbed.size());
    std::string const where = scenario.kind + ", seed " + std::to_string(scenario.seed) + ": ";
    auto const offence = [&](Message const& message, std::string const& what) {
        std::string text = where + message.alarm + " at " + std::to_string(static_cast<long>(message.at_s)) +
                           " s " + what + "; restarts at";
        for (int const moment : moments) text += " " + std::to_string(moment);
        score.offences.push_back(std::move(text));
        score.low += message.priority == Priority::low;
    };
    for (auto const& message : told(scenario, moments)) {
        if (matches(message, undisturbed)) continue;
        ++(message.raised ? score.raised_anew : score.false_clear);
        offence(message, message.raised ? "raised anew" : "told to be over");
    }
    for (auto const& message : undisturbed) {
        // What came at the end of the run has no time left to be late.
        double const later = message.raised ? raised_later_s : cleared_later_s;
        if (message.used || message.at_s + later > scenario.length_s()) continue;
        ++(message.raised ? score.not_raised : score.not_cleared);
        offence(message, message.raised ? "not raised" : "its end not told");
    }
    return score;
}

}  // namespace ingle::scenarios
