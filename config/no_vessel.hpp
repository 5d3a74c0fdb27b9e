// The name by which a stage says that it needs no vessel: the dish stands somewhere.
#pragma once

#include <string_view>

namespace ingle {

inline constexpr std::string_view no_vessel = "none";

}  // namespace ingle
