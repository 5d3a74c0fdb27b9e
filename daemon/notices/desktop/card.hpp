// A notice as a desktop shows it (Desktop Notifications Specification 1.2). Pure.
#pragma once

#include <cstdint>
#include <string>
#include <vector>

#include "daemon/notices/notice.hpp"

namespace ingle::desktop {

struct Card {
    std::string summary, body;
    std::uint8_t urgency = 0;          // 0 low, 1 normal, 2 critical
    std::int32_t expires_ms = -1;      // 0: stays until somebody attends to it; -1: as the desktop likes
    std::vector<std::string> actions;  // a word and what is written on its button, in turn
};

inline constexpr char const* acknowledge_word = "acknowledge";
inline constexpr char const* shelve_word = "shelve";

struct Abilities {
    bool actions = false, markup = false;
};

// `shelve_label`: on its button, "Shelve for 30 min".
Card card_of(Notice const& notice, Abilities const& desktop, std::string const& shelve_label);

}  // namespace ingle::desktop
