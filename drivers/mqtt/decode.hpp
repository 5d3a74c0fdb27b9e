// What a message from a remote node says: a temperature, how old it is, or that the node is gone. Pure; any
// thread.
#pragma once

#include <optional>
#include <string>
#include <string_view>

#include "drivers/bus/text_value.hpp"
#include "drivers/reading/reading.hpp"

namespace ingle {

struct MessageMeaning {
    std::string field;  // of a JSON object, "a.b" for one inside another; empty: the payload is the value
    std::string time_field;  // where the sender says when it measured
    std::optional<TextUnit> unit;
    Span oldest{60'000};  // an older value is stale
};

struct Clocks {  // of the moment of arrival
    Instant at{};
    std::optional<WallTime> wall;  // nothing while this machine does not know the time
};

// The sender's time (ISO 8601 with offset, or seconds or milliseconds since 1970) is checked against ours:
// older than `oldest` or more than that in the future is stale; without one, a retained message is of unknown
// age and stale. An empty payload or a word such as "offline" is the last will of a sender that is gone:
// no_reply.
Reading decode_message(std::string_view payload, bool retained, MessageMeaning const& meaning, Clocks now);

bool says_gone(std::string_view payload);

}  // namespace ingle
