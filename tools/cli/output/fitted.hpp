// A page of lines, brought to the width of the terminal.
#pragma once

#include <string>
#include <string_view>

namespace ingle::cli {

// Lines that are wider than `width` go on below, further in; the others stay as they are.
std::string fitted(std::string_view lines, std::size_t width);
// The same for the width that the terminal, or COLUMNS, tells; as it is where neither does.
std::string fitted_to_terminal(std::string_view lines);

}  // namespace ingle::cli
