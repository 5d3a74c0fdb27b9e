// What "not-delivered" says to a channel that it is about itself. Pure.
#pragma once

#include <algorithm>
#include <string>

#include "daemon/model/effects.hpp"

namespace ingle {

// As Delivery says it of a channel that begins to fail.
inline std::string own_trouble(std::string const& channel) {
    return "the channel " + channel + " does not deliver: ";
}

// The text without what it says of this channel, as long as it says it of another one, too.
inline std::string without_own_trouble(std::string text, std::string const& channel) {
    auto const begin = text.find(own_trouble(channel));
    if (begin == std::string::npos) return text;
    auto const end_of_line = std::min(text.find('\n', begin), text.size());
    auto const next = text.find("; the channel ", begin);
    if (next < end_of_line)
        text.erase(begin, next + 2 - begin);
    else if (begin >= 2 && text.compare(begin - 2, 2, "; ") == 0)
        text.erase(begin - 2, end_of_line - begin + 2);
    return text;
}

// The same of a message about several alarms: where that is all that one of them says, it goes. notice_of.cpp
Tell without_trouble_of(std::string const& channel, Tell const& tell);

}  // namespace ingle
