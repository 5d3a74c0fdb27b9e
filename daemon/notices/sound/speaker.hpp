// The machine's speaker, by ALSA. Blocks while it plays, and for ever where a device hangs.
#pragma once

#include <cstdint>
#include <functional>
#include <string>
#include <vector>

#include "daemon/notices/notifier.hpp"

namespace ingle::sound {

// Until `enough` says so; asked some 40 times a second. One channel, samples_per_s.
Attempt play(std::string const& device, std::vector<std::int16_t> const& samples,
             std::function<bool()> const& enough);
Attempt reach(std::string const& device);  // plays nothing
void keep_the_library_quiet();             // what it would print goes into the attempts

}  // namespace ingle::sound
