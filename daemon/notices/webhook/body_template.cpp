#include "daemon/notices/webhook/body_template.hpp"

#include <algorithm>
#include <array>

namespace ingle::webhook {
namespace {

constexpr std::array<std::string_view, 12> places{
    "text", "subject", "alarm",     "priority",         "kind",       "id", "since",
    "at",   "token",   "page-link", "acknowledge-link", "shelve-link"};

std::string value_of(std::string_view place, Notice const& notice, std::string_view token) {
    if (place == "text") return notice.text;
    if (place == "subject") return notice.subject;
    if (place == "alarm") return notice.alarm;
    if (place == "priority") return notice.priority;
    if (place == "kind") return notice.kind;
    if (place == "id") return notice.id;
    if (place == "since") return notice.since.value_or("");
    if (place == "at") return notice.at.value_or("");
    if (place == "page-link") return notice.links.page;
    if (place == "acknowledge-link") return notice.links.acknowledge;
    if (place == "shelve-link") return notice.links.shelve;
    return std::string(token);
}

std::string escaped(std::string const& text, Escaping how) {
    if (how == Escaping::none) return text;
    constexpr char digits[] = "0123456789abcdef";
    std::string out;
    for (char const c : text) {
        auto const byte = static_cast<unsigned char>(c);
        bool const control = byte < ' ' || byte == 0x7f;
        if (how == Escaping::header)
            out += control ? ' ' : c;
        else if (c == '\n')
            out += "\\n";
        else if (control)
            out += std::string("\\u00") + digits[byte >> 4] + digits[byte & 15];
        else
            out += c == '"' || c == '\\' ? std::string{'\\', c} : std::string{c};
    }
    return out;
}

// The next {word} from `at` on: what stands between the braces, and where it begins; empty = there is none.
struct Place {
    std::string_view word{};
    std::size_t begin = std::string_view::npos;
};
Place next_place(std::string_view text, std::size_t at) {
    for (auto open = text.find('{', at); open != std::string_view::npos; open = text.find('{', open + 1)) {
        auto const end = text.find_first_not_of("abcdefghijklmnopqrstuvwxyz-", open + 1);
        if (end != std::string_view::npos && end > open + 1 && text[end] == '}')
            return {text.substr(open + 1, end - open - 1), open};
    }
    return {};
}

}  // namespace

std::string fill(std::string_view text, Notice const& notice, std::string_view token, Escaping escaping) {
    std::string out;
    std::size_t at = 0;
    for (auto place = next_place(text, 0); !place.word.empty(); place = next_place(text, at)) {
        out += text.substr(at, place.begin - at);
        out += escaped(value_of(place.word, notice, token), escaping);
        at = place.begin + place.word.size() + 2;
    }
    return out += text.substr(at);
}

std::string unknown_place(std::string_view text) {
    for (auto place = next_place(text, 0); !place.word.empty(); place = next_place(text, place.begin + 1))
        if (std::ranges::find(places, place.word) == places.end()) return '{' + std::string(place.word) + '}';
    return {};
}

bool names_token(std::string_view text) {
    return text.find("{token}") != std::string_view::npos;
}

std::string known_places() {
    std::string out;
    for (auto const place : places) out += (out.empty() ? "{" : ", {") + std::string(place) + "}";
    return out;
}

}  // namespace ingle::webhook
