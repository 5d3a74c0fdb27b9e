#include "tools/cli/output/shown_text.hpp"

#include <utility>

#include "config/plain_text.hpp"

namespace ingle::cli {
namespace {

constexpr char styles[] = {bold_on, bold_off, alert_on, 0};

// ECMA-48: select graphic rendition.
char const* sequence_of(char style) {
    return style == bold_on ? "\x1b[1m" : style == alert_on ? "\x1b[1;31m" : "\x1b[0m";
}

}  // namespace

ShownText::~ShownText() {
    pass_on(std::exchange(waiting_, {}));
}

ShownText::int_type ShownText::overflow(int_type c) {
    if (c == traits_type::eof()) return traits_type::not_eof(c);
    char const one = traits_type::to_char_type(c);
    return xsputn(&one, 1) == 1 ? c : traits_type::eof();
}

std::streamsize ShownText::xsputn(char const* text, std::streamsize size) {
    waiting_.append(text, static_cast<std::size_t>(size));
    auto whole = whole_characters(waiting_);
    if (whole > 0 && waiting_[whole - 1] == '\r') --whole;  // the end of a line, or a character to be hidden
    pass_on(std::string_view(waiting_).substr(0, whole));
    waiting_.erase(0, whole);
    return to_ ? size : 0;
}

int ShownText::sync() {
    to_.flush();
    return to_ ? 0 : -1;
}

void ShownText::pass_on(std::string_view text) {
    constexpr std::string_view line_end = "\r\n";  // of a CSV
    for (auto at = text.find(line_end); at != std::string_view::npos; at = text.find(line_end)) {
        pass_line(text.substr(0, at));
        to_ << line_end;
        text.remove_prefix(at + line_end.size());
    }
    pass_line(text);
}

void ShownText::pass_line(std::string_view text) {
    while (!text.empty()) {
        auto const at = text.find_first_of(styles);
        to_ << plain_text(text.substr(0, at));
        if (at == std::string_view::npos) return;
        to_ << sequence_of(text[at]);
        text.remove_prefix(at + 1);
    }
}

}  // namespace ingle::cli
