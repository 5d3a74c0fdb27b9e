// Text that is shown to people: no control characters (a terminal obeys them), no marks that turn the
// direction of writing (a name could show as another), valid UTF-8. Pure; any thread.
#pragma once

#include <cstddef>
#include <string>
#include <string_view>

namespace ingle {

bool is_plain_text(std::string_view text);      // line breaks and tabs are plain
std::string plain_text(std::string_view text);  // "?" for each character that is not
// Where a character that is cut off at the end of `text` begins; its size if there is none.
std::size_t whole_characters(std::string_view text);

}  // namespace ingle
