// What of a kitchen file the logbook keeps, and what it could not keep.
#pragma once

#include <string>

#include "config/settings.hpp"
#include "daemon/logbook/logbook.hpp"

namespace ingle {

// The path, the moment and the clock are the caller's to add. `text`: the file as it was read, whose secrets
// are left out.
logbook::WriterOptions recording_of(Settings const& kitchen, std::string const& text);
// What is lost if the program ends now, as a sentence; "" = nothing.
std::string not_recorded(logbook::Writer const& writer, bool past_known, Instant now);

// What an earlier kitchen of this program knows, as if a logbook had held it.
logbook::Resumed handed_over(Memory state, Instant now);

}  // namespace ingle
