// The stream that a command writes to: names, notes and whatever a wire or a file said are shown as plain
// text, so that none of it is obeyed by the terminal.
#pragma once

#include <ostream>
#include <streambuf>
#include <string>
#include <string_view>

namespace ingle::cli {

// What this program itself says to the terminal, in place of the terminal's own sequences.
inline constexpr char bold_on = '\x0e', bold_off = '\x0f', alert_on = '\x10';

class ShownText final : public std::streambuf {
public:
    explicit ShownText(std::ostream& to) : to_(to) {}
    ~ShownText() override;

protected:
    int_type overflow(int_type c) override;
    std::streamsize xsputn(char const* text, std::streamsize size) override;
    int sync() override;

private:
    void pass_on(std::string_view text);
    void pass_line(std::string_view text);

    std::ostream& to_;
    std::string waiting_;  // of a character that is not whole yet
};

}  // namespace ingle::cli
