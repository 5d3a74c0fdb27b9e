// What a command did, in one sentence for the person who gave it. Pure.
#pragma once

#include "daemon/model/command.hpp"
#include "daemon/model/effects.hpp"
#include "daemon/web/host.hpp"

namespace ingle {

// `effects`: what the core answered. A "refused" event makes it not done, with the event's sentence.
Outcome outcome_of(Settings const& settings, Command const& command, Effects const& effects);

}  // namespace ingle
