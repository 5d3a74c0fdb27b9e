// What one line of a serial source says. Pure: text in, values out; any thread; independent of the locale.
// The shapes, one set of readings a line: `88.5`, `88.5,4.1`, `T1=88.5 T2=4.1`, `T1=190.2F`, `T1:88.5`,
// `T1,88.5`, `{"T1": 88.5}`; banners, comments and empty lines say nothing.
#pragma once

#include <optional>
#include <string>
#include <string_view>
#include <variant>
#include <vector>

#include "drivers/bus/text_value.hpp"

namespace ingle {

struct LineItem {
    std::string label;  // empty where values are known by their place
    int position = 0;   // 1-based
    std::string raw;    // as written
    TextValue value;
};

enum class LineSays {
    values,   // `items` holds at least one
    banner,   // text without values: ignored
    nothing,  // an empty line or a comment
    binary    // bytes that no text has: another speed, noise
};

struct Line {
    LineSays says = LineSays::nothing;
    std::vector<LineItem> items;
};

Line decode_line(std::string_view line, Comma comma = Comma::careful);

// The value of one channel, in degC or why not: by its label, else by its place in a line without labels.
// Nothing where the line does not mention that channel. A channel named twice in one line is garbled.
std::optional<std::variant<double, Fault>> value_of(Line const& line, std::string_view channel,
                                                    std::optional<TextUnit> unit);

}  // namespace ingle
