// A kitchen file that was cut off at the end of a line is a good file that lacks its last parts.
#pragma once

#include <string>

#include "config/settings.hpp"

namespace ingle {

// What is watched and told no more, as a sentence, where `now` has fewer probes, vessels or channels than
// `before`, or no page any more; "" = nothing. What has another name only is not lost.
std::string missing_parts(Settings const& before, Settings const& now);

}  // namespace ingle
