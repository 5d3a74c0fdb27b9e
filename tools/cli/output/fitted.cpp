#include "tools/cli/output/fitted.hpp"

#include <algorithm>
#include <cstdlib>

#include "tools/cli/output/text.hpp"

namespace ingle::cli {

std::string fitted(std::string_view lines, std::size_t width) {
    std::string out;
    while (!lines.empty()) {
        auto const end = std::min(lines.find('\n'), lines.size());
        auto const line = lines.substr(0, end);
        if (width_of(line) <= width) {
            out += line;
        } else {
            auto const margin = std::min(line.find_first_not_of(' '), line.size());
            std::string const indent(margin + 4, ' ');
            auto const text = wrapped(line.substr(margin), width, indent);
            out += std::string(margin, ' ') + text.substr(indent.size());
        }
        if (end < lines.size()) out += '\n';
        lines.remove_prefix(std::min(end + 1, lines.size()));
    }
    return out;
}

std::string fitted_to_terminal(std::string_view lines) {
    auto const screen = terminal();
    bool const known = screen.interactive || std::getenv("COLUMNS");
    return known ? fitted(lines, screen.width) : std::string(lines);
}

}  // namespace ingle::cli
