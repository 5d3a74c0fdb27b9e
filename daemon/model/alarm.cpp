#include "daemon/model/alarm.hpp"

namespace ingle {

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
