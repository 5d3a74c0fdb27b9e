// How high above the sea something is.
#pragma once

#include <string_view>

#include "config/quantity.hpp"

namespace ingle {

Parsed<Length> parse_height(std::string_view text);  // a length; what is right is told as "240 m"

}  // namespace ingle
