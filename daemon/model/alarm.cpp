#include "daemon/model/alarm.hpp"

#include <algorithm>
#include <array>

namespace ingle {
namespace {

constexpr std::array<std::string_view, 6> action_words{"none",  "raise-heat", "lower-heat",
                                                       "chill", "reheat",     "discard"};

bool warms(Action action) {
    return action == Action::raise_heat || action == Action::reheat;
}
bool cools(Action action) {
    return action == Action::lower_heat || action == Action::chill;
}

}  // namespace

bool opposed(Action a, Action b) {
    if (a == Action::none || b == Action::none) return false;
    if (a == Action::discard || b == Action::discard) return a != b;
    return (warms(a) && cools(b)) || (cools(a) && warms(b));
}

std::string_view to_word(Action action) {
    return action_words[static_cast<std::size_t>(action)];
}

std::optional<Action> action_from(std::string_view word) {
    auto const found = std::ranges::find(action_words, word);
    if (found == action_words.end()) return std::nullopt;
    return static_cast<Action>(found - action_words.begin());
}

std::string_view to_word(AlarmState state) {
    switch (state) {
        case AlarmState::normal:
            return "normal";
        case AlarmState::unacknowledged:
            return "unacknowledged";
        case AlarmState::acknowledged:
            return "acknowledged";
        case AlarmState::returned_unacknowledged:
            return "returned-unacknowledged";
        case AlarmState::shelved:
            return "shelved";
        case AlarmState::suppressed_by_design:
            return "suppressed-by-design";
        case AlarmState::out_of_service:
            return "out-of-service";
    }
    return "normal";
}

std::string_view to_word(Priority priority) {
    switch (priority) {
        case Priority::low:
            return "low";
        case Priority::medium:
            return "medium";
        case Priority::high:
            return "high";
    }
    return "high";
}

std::string_view to_word(SubjectKind kind) {
    switch (kind) {
        case SubjectKind::kitchen:
            return "kitchen";
        case SubjectKind::probe:
            return "probe";
        case SubjectKind::vessel:
            return "vessel";
        case SubjectKind::dish:
            return "dish";
    }
    return "kitchen";
}

}  // namespace ingle
