// What a guest shows to look until a time: that time, signed. Nothing of it is stored. Pure; any thread.
#pragma once

#include <cstdint>
#include <optional>
#include <string>
#include <string_view>

namespace ingle {

// "1795712400.SIGNATURE"; `until_s`: s since 1970. "": without a key none can be signed.
std::string guest_pass(std::string_view key, std::int64_t until_s);
// Until when; empty: this key did not sign it. Takes as long for a near miss as for a far one.
std::optional<std::int64_t> guest_until(std::string_view key, std::string_view pass);

}  // namespace ingle
