#include "tools/cli/time/local_time.hpp"

#include <algorithm>
#include <cmath>
#include <cstdlib>
#include <iostream>

#include "config/plain_text.hpp"

namespace ingle::cli {
namespace {

std::string two(long value) {
    auto const text = std::to_string(value);
    return text.size() < 2 ? "0" + text : text;
}

void complain(std::string const& sentence) {
    std::cerr << "ingle: " << plain_text(sentence) << '\n';
}

std::string whole(double value) {
    return std::to_string(std::llround(value));
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
    if (minutes <= 48 * 60)  // what is left of 48 h is said by the hour, as they are
        return std::to_string(minutes / 60) + " h " + two(static_cast<long>(minutes % 60)) + " min";
    auto const hours = std::llround(s / 3600);
    return std::to_string(hours / 24) + " days" + (hours % 24 ? " " + std::to_string(hours % 24) + " h" : "");
}

std::string ahead_text(double eta_s, std::optional<double> low_s, std::optional<double> high_s) {
    auto text = "in about " + length_text(eta_s);
    if (low_s && high_s) text += " (" + length_text(*low_s) + " to " + length_text(*high_s) + ")";
    return text;
}

void tell_times_in(std::string const& zone) {
    if (zone.empty()) return;
    if (!TimeZone::named(zone))
        return complain(
            "the kitchen's zone " + zone +
            " is not known here (Debian's package tzdata has it); times are those of this machine");
    setenv("TZ", zone.c_str(), 1);
}

TimeZone const& local_zone() {
    static const FoundZone found = [] {
        auto zone = machine_zone();
        if (!zone.complaint.empty()) complain(zone.complaint);
        return zone;
    }();
    return found.zone;
}

std::string local_iso(WallTime at) {
    return local_zone().iso(at);
}

std::string time_text(WallTime at, bool with_date, bool with_seconds) {
    constexpr char const* days[] = {"Sun", "Mon", "Tue", "Wed", "Thu", "Fri", "Sat"};
    auto const& zone = local_zone();
    auto const iso = zone.iso(std::chrono::floor<std::chrono::seconds>(at), "+00:00");
    std::string text;
    if (with_date) {
        std::chrono::weekday const day(std::chrono::floor<std::chrono::days>(zone.local(at)));
        text = std::string(days[day.c_encoding()]) + " " + iso.substr(0, 10) + " ";
    }
    text += iso.substr(11, with_seconds ? 8 : 5);
    if (zone.comes_twice(at)) text += " (UTC" + iso.substr(19) + ")";
    return text;
}

}  // namespace ingle::cli
