#include "tools/cli/output/shown_text.hpp"

#include <utility>

#include "config/plain_text.hpp"

namespace ingle::cli {

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
    auto const whole = whole_characters(waiting_);
    pass_on(std::string_view(waiting_).substr(0, whole));
    waiting_.erase(0, whole);
    return to_ ? size : 0;
}

int ShownText::sync() {
    to_.flush();
    return to_ ? 0 : -1;
}

void ShownText::pass_on(std::string_view text) {
    while (!text.empty()) {
        auto const style = text.find_first_of(std::string{bold_on, bold_off});
        to_ << plain_text(text.substr(0, style));
        if (style == std::string_view::npos) return;
        to_ << (text[style] == bold_on ? "\x1b[1m" : "\x1b[0m");
        text.remove_prefix(style + 1);
    }
}

}  // namespace ingle::cli
