#include "daemon/notices/email/message.hpp"
#include "daemon/model/markup.hpp"

#include <algorithm>
#include <array>
#include <utility>

#include "daemon/notices/email/picture.hpp"
#include "daemon/notices/links.hpp"

namespace ingle::email {
namespace {

std::string base64(std::string_view bytes) {
    constexpr std::string_view digits = "ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789+/";
    std::string out;
    for (std::size_t i = 0; i < bytes.size(); i += 3) {
        auto const at = [&](std::size_t k) {
            return k < bytes.size() ? static_cast<unsigned>(static_cast<unsigned char>(bytes[k])) : 0U;
        };
        unsigned const word = at(i) << 16 | at(i + 1) << 8 | at(i + 2);
        for (unsigned k = 0; k < 4; ++k)
            out += i + k > bytes.size() ? '=' : digits[word >> (18 - 6 * k) & 63];
    }
    return out;
}

std::string one_line(std::string text) {
    std::ranges::replace_if(
        text, [](char c) { return static_cast<unsigned char>(c) < 0x20; }, ' ');
    return text;
}

// Encoded words are at most 75 characters (RFC 2047), cut between characters and never within one.
std::string header_text(std::string const& text) {
    bool const ascii = std::ranges::all_of(text, [](char c) { return static_cast<unsigned char>(c) < 0x7f; });
    if (ascii) return text;
    std::string out;
    for (std::size_t begin = 0; begin < text.size();) {
        auto end = std::min(text.size(), begin + 42);
        while (end > begin + 38 && end < text.size() &&
               (static_cast<unsigned char>(text[end]) & 0xC0) == 0x80)
            --end;
        out += (out.empty() ? "" : "\r\n ");
        out += "=?utf-8?B?" + base64(std::string_view(text).substr(begin, end - begin)) + "?=";
        begin = end;
    }
    return out;
}

// By hand: strftime's names of days and months follow the locale, a mail's do not.
std::string mail_date(std::chrono::system_clock::time_point now) {
    using namespace std::chrono;
    constexpr std::array<char const*, 7> days_of_week{"Sun", "Mon", "Tue", "Wed", "Thu", "Fri", "Sat"};
    constexpr std::array<char const*, 12> months_of_year{"Jan", "Feb", "Mar", "Apr", "May", "Jun",
                                                         "Jul", "Aug", "Sep", "Oct", "Nov", "Dec"};
    auto const midnight = floor<days>(now);
    year_month_day const date{midnight};
    auto const s = duration_cast<seconds>(now - midnight).count();
    auto const two = [](std::int64_t n) { return (n < 10 ? "0" : "") + std::to_string(n); };
    return std::string(days_of_week[weekday{midnight}.c_encoding()]) + ", " +
           std::to_string(static_cast<unsigned>(date.day())) + ' ' +
           months_of_year[static_cast<unsigned>(date.month()) - 1] + ' ' +
           std::to_string(static_cast<int>(date.year())) + ' ' + two(s / 3600) + ':' + two(s / 60 % 60) +
           ':' + two(s % 60) + " +0000";
}

// A mail program's list shows little more than 40 characters of it: what, and how it stands, come first.
constexpr std::size_t longest_subject = 110;
constexpr std::string_view chart_id = "chart@ingle.invalid";

std::string subject(Notice const& notice) {
    auto words = notice.text.substr(0, notice.text.find('\n'));
    if (auto const end = words.find(". "); end != std::string::npos) words.resize(end);
    if (words.ends_with('.')) words.pop_back();
    words.erase(0, std::min(words.find_first_not_of(' '), words.size()));
    if (words.empty()) words = notice.subject + ": " + notice.alarm;
    if (words.size() > longest_subject) {
        auto end = words.rfind(' ', longest_subject);
        if (end == words.npos || end < longest_subject / 2)
            end = longest_subject;                                 // an address, or no blanks
        while (end > 0 && (words[end] & '\xC0') == '\x80') --end;  // within a letter (UTF-8)
        words.resize(end);
    }
    return one_line(notice.priority == "high" ? "! " + words : words);
}

// "2026-11-26T16:00:00-05:00", local to the kitchen, without its offset and seconds.
std::string moment(std::string const& iso) {
    return iso.size() < 16 ? iso : iso.substr(11, 5) + " on " + iso.substr(0, 10);
}

std::vector<std::string> footer(Notice const& notice) {
    std::vector<std::string> lines;
    if (notice.since) lines.push_back("since " + moment(*notice.since));
    if (notice.at) lines.push_back("told " + moment(*notice.at));
    if (notice.late) lines.emplace_back("This notice is late: it says what was so when it was told.");
    lines.push_back("notice " + notice.id);
    return lines;
}

// Each opens a page that asks first, so that a program that looks at links acknowledges nothing.
std::vector<std::pair<std::string, std::string>> links(Notice const& notice) {
    std::vector<std::pair<std::string, std::string>> lines{
        {"Acknowledge", notice.links.acknowledge},
        {"Shelve for " + std::to_string(link_shelves_for.count()) + " min", notice.links.shelve},
        {"The page", notice.links.page}};
    std::erase_if(lines, [](auto const& line) { return line.second.empty(); });
    return lines;
}

std::vector<std::string> lines_of(std::string text) {
    std::erase(text, '\r');
    std::vector<std::string> lines;
    for (std::size_t begin = 0; begin <= text.size();) {
        auto const end = std::min(text.find('\n', begin), text.size());
        lines.push_back(text.substr(begin, end - begin));
        begin = end + 1;
    }
    return lines;
}

std::string plain(Notice const& notice) {
    std::string out;
    for (auto const& line : lines_of(notice.text)) out += line + "\r\n";
    for (auto const& [words, link] : links(notice)) out += "\r\n" + words + ":\r\n" + link + "\r\n";
    if (notice.chart) out += "\r\n" + in_words(*notice.chart) + "\r\n";
    out += "\r\n";
    for (auto const& line : footer(notice)) out += line + "\r\n";
    return out;
}

// The same words in the same order, larger: no colour, picture or address has to be loaded or seen. The chart
// comes with the mail.
std::string html(Notice const& notice, bool picture) {
    std::string out =
        "<!doctype html>\r\n<html lang=\"en\"><head><meta charset=\"utf-8\">"
        "<meta name=\"viewport\" content=\"width=device-width\"></head>\r\n"
        "<body style=\"font-family: sans-serif; line-height: 1.4; overflow-wrap: anywhere\">\r\n";
    bool first = true;
    for (auto const& line : lines_of(notice.text)) {
        out += std::exchange(first, false)
                   ? "<p style=\"font-size: 1.25em\"><strong>" + escaped(line) + "</strong></p>\r\n"
                   : "<p>" + escaped(line) + "</p>\r\n";
    }
    for (auto const& [words, link] : links(notice))
        out += "<p><a href=\"" + escaped(link) + "\">" + words + "</a></p>\r\n";
    if (notice.chart) out += "<p>" + escaped(in_words(*notice.chart)) + "</p>\r\n";
    if (picture)
        out += "<p><img src=\"cid:" + std::string(chart_id) + "\" alt=\"The same as a chart\" width=\"" +
               std::to_string(picture_width) + "\" height=\"" + std::to_string(picture_height) +
               "\" style=\"max-width: 100%; height: auto\"></p>\r\n";
    out += "<p>";
    for (auto const& line : footer(notice)) out += escaped(line) + "<br>\r\n";
    return out + "</p></body></html>\r\n";
}

std::string part(std::string const& boundary, char const* type, std::string const& text) {
    return "--" + boundary + "\r\nContent-Type: " + type +
           "; charset=utf-8\r\nContent-Transfer-Encoding: 8bit\r\n\r\n" + text + "\r\n";
}

// The HTML and the picture that it shows (RFC 2387).
std::string with_picture(std::string const& boundary, std::string const& html_part, std::string const& png) {
    auto const inner = boundary + "-related";
    std::string out =
        "--" + boundary + "\r\nContent-Type: multipart/related; type=\"text/html\"; boundary=\"" + inner +
        "\"\r\n\r\n" + part(inner, "text/html", html_part) + "--" + inner +
        "\r\nContent-Type: image/png\r\nContent-Transfer-Encoding: base64\r\nContent-ID: <" +
        std::string(chart_id) + ">\r\nContent-Disposition: inline; filename=\"last-hour.png\"\r\n\r\n";
    constexpr std::size_t line = 76;
    auto const text = base64(png);
    for (std::size_t at = 0; at < text.size(); at += line) out += text.substr(at, line) + "\r\n";
    return out + "--" + inner + "--\r\n";
}

}  // namespace

std::string message(Notice const& notice, std::string const& from, std::vector<std::string> const& to,
                    std::chrono::system_clock::time_point now) {
    std::string receivers;
    for (auto const& each : to) receivers += (receivers.empty() ? "" : ", ") + one_line(each);
    auto const png = notice.chart ? png_of(*notice.chart) : std::string();
    auto const plain_text = plain(notice), html_text = html(notice, !png.empty());
    std::string boundary = "=_part";  // must not begin a line of either
    while (plain_text.find(boundary) != std::string::npos || html_text.find(boundary) != std::string::npos)
        boundary += '_';
    return "From: " + one_line(from) + "\r\nTo: " + receivers +
           "\r\nSubject: " + header_text(subject(notice)) + "\r\nDate: " + mail_date(now) +
           "\r\nMessage-ID: <" + one_line(notice.id) +
           "@ingle.invalid>\r\nAuto-Submitted: auto-generated\r\nMIME-Version: 1.0\r\n"
           "Content-Type: multipart/alternative; boundary=\"" +
           boundary + "\"\r\n\r\n" + part(boundary, "text/plain", plain_text) +
           (png.empty() ? part(boundary, "text/html", html_text) : with_picture(boundary, html_text, png)) +
           "--" + boundary + "--\r\n";
}

}  // namespace ingle::email
