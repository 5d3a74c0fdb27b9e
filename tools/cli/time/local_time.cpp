#include "tools/cli/time/local_time.hpp"

#include <algorithm>
#include <cmath>
#include <cstdlib>
#include <ctime>

#include "drivers/reading/iso_time.hpp"

namespace ingle::cli {
namespace {

std::string two(long value) {
    auto const text = std::to_string(value);
    return text.size() < 2 ? "0" + text : text;
}

std::string whole(double value) {
    return std::to_string(std::llround(value));
}

long offset_s(time_t at) {
    tm parts{};
    localtime_r(&at, &parts);
    return parts.tm_gmtoff;
}

// Does the same time of day come twice around this moment?
bool ambiguous(time_t at) {
    constexpr time_t day = 86'400;
    long const here = offset_s(at);
    for (long const other : {offset_s(at - day), offset_s(at + day)}) {
        if (other == here) continue;
        if (offset_s(at + here - other) == other) return true;
    }
    return false;
}

}  // namespace

std::string age_text(double seconds) {
    auto const s = std::max(0.0, seconds);
    if (s < 119.5) return whole(s) + " s old";
    if (s < 119.5 * 60) return whole(s / 60) + " min old";
    if (s < 47.5 * 3600) return whole(s / 3600) + " h old";
    return whole(s / 86'400) + " days old";
}

std::string length_text(double seconds) {
    auto const s = std::max(0.0, seconds);
    if (s < 99.5) return whole(s) + " s";
    if (s < 99.5 * 60) return whole(s / 60) + " min";
    auto const minutes = std::llround(s / 60);
    if (minutes < 48 * 60)
        return std::to_string(minutes / 60) + " h " + two(static_cast<long>(minutes % 60)) + " min";
    auto const hours = std::llround(s / 3600);
    return std::to_string(hours / 24) + " days " + std::to_string(hours % 24) + " h";
}

std::string ahead_text(double eta_s, std::optional<double> low_s, std::optional<double> high_s) {
    auto text = "in about " + length_text(eta_s);
    if (low_s && high_s) text += " (" + length_text(*low_s) + " to " + length_text(*high_s) + ")";
    return text;
}

std::chrono::minutes local_offset(WallTime at) {
    auto const s = std::chrono::floor<std::chrono::seconds>(at).time_since_epoch().count();
    return std::chrono::minutes(offset_s(static_cast<time_t>(s)) / 60);
}

std::string time_text(WallTime at, bool with_date, bool with_seconds) {
    auto const s =
        static_cast<time_t>(std::chrono::floor<std::chrono::seconds>(at).time_since_epoch().count());
    tm parts{};
    localtime_r(&s, &parts);
    constexpr char const* days[] = {"Sun", "Mon", "Tue", "Wed", "Thu", "Fri", "Sat"};
    std::string text;
    if (with_date) {
        text = std::string(days[parts.tm_wday]) + " " + std::to_string(parts.tm_year + 1900) + "-" +
               two(parts.tm_mon + 1) + "-" + two(parts.tm_mday) + " ";
    }
    text += two(parts.tm_hour) + ":" + two(parts.tm_min);
    if (with_seconds) text += ":" + two(parts.tm_sec);
    if (ambiguous(s)) {
        long const minutes = std::labs(parts.tm_gmtoff) / 60;
        text += std::string(" (UTC") + (parts.tm_gmtoff < 0 ? "-" : "+") + two(minutes / 60) + ":" +
                two(minutes % 60) + ")";
    }
    return text;
}

std::optional<WallTime> wall_from_json(std::string_view iso) {
    return parse_iso_time(iso);
}

}  // namespace ingle::cli
