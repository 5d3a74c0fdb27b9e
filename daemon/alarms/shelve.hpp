// Shelving: silence with an end. Pure.
#pragma once

#include <algorithm>

#include "daemon/model/alarm.hpp"
#include "daemon/model/shelving.hpp"

namespace ingle {

constexpr Span default_shelving = std::chrono::minutes(30);

// The end of a shelving that begins now. Empty: `length` is 0 or less, which ends a shelving.
inline std::optional<Instant> end_of_shelving(Instant now, Span length) {
    if (length <= Span(0)) return std::nullopt;
    return now + std::min(length, longest_shelving);
}

// A shelved alarm must not hide a worse one of the same subject; the kitchen as a whole is no one thing.
inline bool breaks_shelving(Alarm const& shelved, Alarm const& other) {
    return shelved.subject.kind != SubjectKind::kitchen && shelved.subject == other.subject &&
           shelved.id != other.id && other.active && other.priority > shelved.priority;
}

}  // namespace ingle
