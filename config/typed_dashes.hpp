// The minus signs and dashes that phones and word processors put for a "-".
#pragma once

#include <string_view>

namespace ingle {

// U+2212, U+2013, U+2014.
inline constexpr std::string_view typed_dashes[] = {"\xE2\x88\x92", "\xE2\x80\x93", "\xE2\x80\x94"};

}  // namespace ingle
