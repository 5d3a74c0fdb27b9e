// What of a kitchen file may be kept: an address can hold a secret in its path or query, a program's
// arguments, a header or a body can be one, and files of earlier versions could hold a token or a password.
// Pure; any thread.
#pragma once

#include <string>
#include <string_view>

namespace ingle {

// The kitchen file's text with "removed" in the place of each token, password, body, header's value without a
// {place} and argument of a program, and of each address scheme and host alone; everything else as it stands.
// A text that is no TOML is replaced as a whole by a comment.
std::string without_secrets(std::string_view text);

}  // namespace ingle
