// How a notice is worded and named that goes out later than it was told. Pure.
#pragma once

#include <cctype>
#include <charconv>
#include <cstdint>
#include <string>
#include <string_view>

#include "daemon/notices/notice.hpp"

namespace ingle {

// FNV-1a, 64 bits, in hexadecimal.
inline std::string fingerprint(std::string_view text) {
    std::uint64_t hash = 0xcbf29ce484222325;
    for (char const c : text) hash = (hash ^ static_cast<unsigned char>(c)) * 0x100000001b3;
    std::string out;
    for (int shift = 60; shift >= 0; shift -= 4) out += "0123456789abcdef"[hash >> shift & 15];
    return out;
}

// "16:41", on another day than `today` ("2026-11-26"; "" = not known) "16:41 on 2026-11-25".
inline std::string time_of(Notice const& notice, std::string_view today = {}) {
    auto const& at = notice.at ? notice.at : notice.since;
    if (!at || at->size() < 16) return "time not known";
    auto const date = at->substr(0, 10);
    return at->substr(11, 5) + (today.empty() || date == today ? "" : " on " + date);
}

// What may not be so any more is read with its time, also where only its first words are shown.
inline std::string late_words(Notice const& notice, std::string_view today, bool held) {
    bool const known = notice.at || notice.since;
    auto text = (known ? "at " + time_of(notice, today) + ", " : std::string()) +
                (held ? "held back: " : "told late: ") + notice.text;
    text[0] = static_cast<char>(std::toupper(static_cast<unsigned char>(text[0])));
    return text;
}

inline std::string never_came(Notice const& notice) {
    return "\nNot delivered before it was over (" + time_of(notice) + "): " + notice.text;
}

// "n7", "n7~2", "n7~3": another message, which says the same. How many were refused before it is in its
// identity, so that it is known over a restart.
inline int refusals_of(std::string const& id) {
    auto const at = id.find('~');
    int number = 1;
    if (at != std::string::npos) std::from_chars(id.data() + at + 1, id.data() + id.size(), number);
    return number - 1;
}
inline std::string next_identity(std::string const& id) {
    return id.substr(0, id.find('~')) + '~' + std::to_string(refusals_of(id) + 2);
}

}  // namespace ingle
