// What an alarm, an event or a command is about. Plain values.
#pragma once

#include <compare>

namespace ingle {

enum class SubjectKind { kitchen, probe, vessel, dish };

struct Subject {
    SubjectKind kind = SubjectKind::kitchen;
    int number = 0;  // place in the kitchen file, from 0; 0 for the kitchen
    friend auto operator<=>(Subject, Subject) = default;
};

}  // namespace ingle
