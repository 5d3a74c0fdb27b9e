#include "daemon/notices/email/message.hpp"

#include <algorithm>
#include <array>

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

std::string subject(Notice const& notice) {
    auto const first = notice.text.substr(0, notice.text.find('\n'));
    std::string words = notice.kind == "raised" ? "" : notice.kind + ": ";
    words += notice.subject.empty() ? first
                                    : notice.subject + ": " + (notice.alarm.empty() ? first : notice.alarm);
    return one_line(notice.priority == "high" ? "! " + words : words);
}

}  // namespace

std::string message(Notice const& notice, std::string const& from, std::vector<std::string> const& to,
                    std::chrono::system_clock::time_point now) {
    std::string receivers;
    for (auto const& each : to) receivers += (receivers.empty() ? "" : ", ") + one_line(each);
    std::string out = "From: " + one_line(from) + "\r\nTo: " + receivers +
                      "\r\nSubject: " + header_text(subject(notice)) + "\r\nDate: " + mail_date(now) +
                      "\r\nMessage-ID: <" + one_line(notice.id) +
                      "@ingle.invalid>\r\nAuto-Submitted: auto-generated\r\nMIME-Version: 1.0\r\n"
                      "Content-Type: text/plain; charset=utf-8\r\nContent-Transfer-Encoding: 8bit\r\n\r\n";
    for (char const c : notice.text) {
        if (c == '\r') continue;
        if (c == '\n') out += '\r';
        out += c;
    }
    out += "\r\n\r\n";
    if (notice.since) out += "since " + *notice.since + "\r\n";
    if (notice.at) out += "told " + *notice.at + "\r\n";
    if (notice.late) out += "This notice is late: it could not be delivered before.\r\n";
    return out + "notice " + notice.id + "\r\n";
}

}  // namespace ingle::email
