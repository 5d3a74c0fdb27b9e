// A setting of the kitchen file changed for one run, to see what would have been told. Pure.
#pragma once

#include <string>
#include <string_view>

#include "config/settings.hpp"

namespace ingle {

// "stockpot.band=180 degF to 190 degF", "smoker.deadband=5 degF": changes one setting. "" or what is wrong.
std::string apply_setting(Settings& settings, std::string_view text);

}  // namespace ingle
