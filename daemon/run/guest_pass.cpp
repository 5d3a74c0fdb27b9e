#include "daemon/run/guest_pass.hpp"

#include <charconv>

#include "daemon/notices/sha256.hpp"

namespace ingle {

std::string guest_pass(std::string_view key, std::int64_t until_s) {
    if (key.empty()) return {};
    auto const said = std::to_string(until_s);
    return said + '.' + hmac_sha256_hex(key, "guest." + said);
}

std::optional<std::int64_t> guest_until(std::string_view key, std::string_view pass) {
    std::int64_t until_s = 0;
    auto const [end, error] = std::from_chars(pass.data(), pass.data() + pass.size(), until_s);
    auto const right = guest_pass(key, error == std::errc{} ? until_s : 0);
    unsigned difference = pass.size() == right.size() && !right.empty() ? 0U : 1U;
    for (std::size_t i = 0; i < right.size(); ++i)
        difference |= static_cast<unsigned char>((i < pass.size() ? pass[i] : '\0') ^ right[i]);
    return difference == 0 ? std::optional(until_s) : std::nullopt;
}

}  // namespace ingle
