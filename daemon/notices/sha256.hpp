// SHA-256 (FIPS 180-4) and the message authentication code over it (RFC 2104), in hexadecimal. Pure.
#pragma once

#include <string>
#include <string_view>

namespace ingle {

std::string sha256_hex(std::string_view bytes);
std::string hmac_sha256_hex(std::string_view key, std::string_view bytes);

}  // namespace ingle
