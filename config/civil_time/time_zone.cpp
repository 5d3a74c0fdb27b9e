#include "config/civil_time/time_zone.hpp"

#include <algorithm>
#include <cstdlib>
#include <exception>
#include <filesystem>
#include <fstream>
#include <iterator>

#include "config/civil_time/zone_library.hpp"

namespace ingle {
namespace {

namespace fs = std::filesystem;
using std::chrono::floor;
using std::chrono::hours;
using std::chrono::minutes;

constexpr char zone_folder[] = "/usr/share/zoneinfo";
constexpr std::uintmax_t longest_zone_file = 1 << 20;
// No two offsets differ by more: from -12 h to +14 h.
constexpr hours widest{26};

// The last line of a zone file (RFC 8536, section 3.3): the rule from its last change of the clocks on.
std::optional<PosixRule> rule_of_file(fs::path const& file) {
    std::error_code unreadable;
    auto const size = fs::is_regular_file(file, unreadable) ? fs::file_size(file, unreadable) : 0;
    if (unreadable || size < 8 || size > longest_zone_file) return std::nullopt;
    std::ifstream stream(file, std::ios::binary);
    std::string const text((std::istreambuf_iterator<char>(stream)), {});
    if (!text.starts_with("TZif") || text.back() != '\n') return std::nullopt;
    auto const begin = text.rfind('\n', text.size() - 2);
    if (begin == std::string::npos) return std::nullopt;
    return PosixRule::from(std::string_view(text).substr(begin + 1, text.size() - begin - 2));
}

}  // namespace

class TimeZone::Rule {
public:
    Rule() = default;
    Rule(Rule const&) = delete;
    Rule& operator=(Rule const&) = delete;
    virtual ~Rule() = default;
    virtual ZonePeriod at(std::chrono::sys_seconds t) const = 0;
};

class TimeZone::LibraryRule final : public Rule {
public:
    // Throws where the library does.
    explicit LibraryRule(std::string const& name)
        : zone_(zone_library::locate_zone(name)), later_(rule_of_file(fs::path(zone_folder) / name)) {
        at(std::chrono::sys_seconds{});  // reads the file
    }
    ZonePeriod at(std::chrono::sys_seconds t) const override {
        auto const info = zone_->get_info(t);
        ZonePeriod const period{std::max(info.begin, zone_begin), std::min(info.end, zone_end), info.offset};
        if (period.end < zone_end || !later_) return period;
        // Howard Hinnant's library knows the changes that are listed in the file, not those that follow.
        auto const later = later_->at(t);
        return {std::max(period.begin, later.begin), later.end, later.offset};
    }

private:
    zone_library::time_zone const* zone_;
    std::optional<PosixRule> later_;
};

class TimeZone::FixedRule final : public Rule {
public:
    explicit FixedRule(PosixRule const& rule) : rule_(rule) {}
    ZonePeriod at(std::chrono::sys_seconds t) const override { return rule_.at(t); }

private:
    PosixRule rule_;
};

std::optional<TimeZone> TimeZone::named(std::string const& name) {
    try {
        return TimeZone(std::make_shared<LibraryRule const>(name));
    } catch (std::exception const&) {  // it has no such zone, or no zones, or cannot read them
        return std::nullopt;
    }
}

std::optional<TimeZone> TimeZone::of_file(std::string const& file) {
    std::error_code unknown;
    auto const folder = fs::canonical(zone_folder, unknown);
    auto const target = fs::canonical(file, unknown);
    if (!unknown)
        if (auto const name = target.lexically_relative(folder); !name.empty() && *name.begin() != "..")
            if (auto zone = named(name.string())) return zone;
    auto const rule = rule_of_file(file);
    if (!rule) return std::nullopt;
    return TimeZone(std::make_shared<FixedRule const>(*rule));
}

std::optional<TimeZone> TimeZone::from_tz(std::string_view text) {
    if (text.starts_with(':')) text.remove_prefix(1);
    if (text.empty()) return TimeZone();
    std::string const name(text);
    if (name.starts_with('/')) return of_file(name);
    if (auto zone = named(name)) return zone;
    auto const rule = PosixRule::from(text);
    if (!rule) return std::nullopt;
    return TimeZone(std::make_shared<FixedRule const>(*rule));
}

ZonePeriod TimeZone::period(WallTime at) const {
    if (!rule_) return {zone_begin, zone_end, std::chrono::seconds(0)};
    auto const within =
        std::clamp(at, WallTime(zone_begin), WallTime(zone_end) - std::chrono::milliseconds(1));
    auto period = rule_->at(floor<std::chrono::seconds>(within));
    period.offset = std::chrono::duration_cast<minutes>(period.offset);  // as it is written
    return period;
}

minutes TimeZone::offset(WallTime at) const {
    return std::chrono::duration_cast<minutes>(period(at).offset);
}

LocalTime TimeZone::local(WallTime at) const {
    return LocalTime(at.time_since_epoch() + offset(at));
}

LocalInstants TimeZone::instants(LocalTime at) const {
    WallTime const naive(at.time_since_epoch());
    std::optional<LocalInstants> found;
    WallTime jumped_to = naive;
    auto here = period(naive - widest);
    while (true) {
        auto const instant = naive - here.offset;
        if (instant >= here.begin && instant < here.end)
            found = LocalInstants{found ? found->first : instant, instant};
        if (instant >= here.end) jumped_to = here.end;
        if (here.end > naive + widest || here.end >= zone_end) break;
        here = period(here.end);
    }
    return found.value_or(LocalInstants{jumped_to, jumped_to, true});
}

bool TimeZone::comes_twice(WallTime at) const {
    auto const shown = instants(local(at));
    return shown.first != shown.last;
}

std::string TimeZone::iso(WallTime at, std::string_view zero) const {
    return iso_time(at, offset(at), zero);
}

bool has_zone_files() {
    std::error_code none;
    return fs::exists(fs::path(zone_folder) / "Etc/UTC", none);
}

FoundZone machine_zone() {
    constexpr char localtime_file[] = "/etc/localtime";
    std::string const files =
        has_zone_files() ? "" : " (this machine has no time zones: Debian's package tzdata)";
    if (char const* tz = std::getenv("TZ")) {
        if (auto zone = TimeZone::from_tz(tz)) return {*zone, ""};
        return {
            {},
            "times are in UTC: TZ is \"" + std::string(tz) + "\", and no such time zone is known" + files};
    }
    if (auto zone = TimeZone::of_file(localtime_file)) return {*zone, ""};
    std::error_code none;
    if (files.empty() && !fs::exists(fs::symlink_status(localtime_file, none))) return {};
    return {{},
            "times are in UTC: " + std::string(localtime_file) + " names no time zone that is known" + files};
}

}  // namespace ingle
