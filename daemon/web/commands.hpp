// The bodies of POST /api/commands/NAME as commands for the core. Pure; any thread.
#pragma once

#include <optional>
#include <string>
#include <string_view>
#include <variant>
#include <vector>

#include "daemon/web/host.hpp"

namespace ingle {

struct BadCommand {
    int status = 400;
    std::string text;  // a sentence: what is wrong, what would be right
};

// hold {vessel, low, high, for?} or {vessel, band: null}; begin {dish, when?}; next {dish, again?};
// end, back {dish}; note {text, about?, when?}; note-back {};
// acknowledge {alarm?, by?}; shelve {alarm, for, by?}; unshelve {alarm, by?}; out-of-service {subject, out,
// by?}; switch {vessel, open}; pressure {pressure}; calibrate {probe, points: [{reads, is}]}.
// timer {for, text?}; stop-timer {timer}; serve {dish, at} or {dish, at: null}. `offset_ms`: wall = boot +
// offset, for `when`; `zone`: of the kitchen's clock, for a time without an offset.
std::variant<Command, BadCommand> read_command(std::string_view name, std::string_view body,
                                               Settings const& settings,
                                               std::optional<std::int64_t> offset_ms,
                                               TimeZone const& zone = {});
// Where its `when` is no moment of the past, or one of more than a year ago.
std::optional<BadCommand> wrong_time(Command const& command, Instant now);
std::vector<std::string_view> command_names();

}  // namespace ingle
