// Kitchen files of earlier versions could hold a token or a password: cleans a text that was kept. Pure; any
// thread.
#pragma once

#include <string>
#include <string_view>

namespace ingle {

// The kitchen file's text with "removed" in the place of each token and password, and without user and
// password in an address; everything else as it stands. A text that is no TOML is replaced as a whole by a
// comment.
std::string without_secrets(std::string_view text);

}  // namespace ingle
