// What is said of a channel when it begins to fail, and when it works again.
#pragma once

#include <string>

namespace ingle {

// `trouble`: "" = it works again; `beats`: it gives signs of life and carries no notices.
inline std::string health_words(std::string const& channel, std::string const& trouble, bool beats,
                                bool has_delivered) {
    if (!trouble.empty() && beats) return "the channel " + channel + " gives no sign of life: " + trouble;
    if (!trouble.empty()) return "the channel " + channel + " does not deliver: " + trouble;
    if (beats) return "the channel " + channel + " gives signs of life again";
    return "the channel " + channel + (has_delivered ? " delivers again" : " can be reached again");
}

}  // namespace ingle
