// One message about several alarms. Pure.
#pragma once

#include <span>
#include <string>

namespace ingle {

// The gravest first: a lock screen shows the first words only.
inline std::string group_text(std::span<std::string const> sentences) {
    if (sentences.empty()) return {};
    std::string text = sentences.front();
    if (sentences.size() == 1) return text;
    text += "\nAnd " + std::to_string(sentences.size() - 1) + " more:";
    for (auto const& sentence : sentences.subspan(1)) text += "\n- " + sentence;
    return text;
}

}  // namespace ingle
