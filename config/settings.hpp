// What a kitchen file and its plan files say, as plain structs in SI units. Made by config/load, read by all.
#pragma once

#include <algorithm>
#include <cstdint>
#include <map>
#include <optional>
#include <string>
#include <string_view>
#include <variant>
#include <vector>

#include "config/quantity.hpp"

namespace ingle {

struct Where {  // where in a file something stands; line 0 = not from a file
    std::string file;
    int line = 0, column = 0;
};

// A value of a key whose meaning the driver or the channel knows, not the loader.
struct FreeValue {
    std::variant<std::string, std::int64_t, double, bool, std::vector<std::int64_t>, std::vector<std::string>>
        value;
    Where where;
};
using FreeKeys = std::map<std::string, FreeValue, std::less<>>;

struct Band {  // low < high, always
    Temperature low, high;
    friend bool operator==(Band, Band) = default;
};

struct CalibrationPoint {
    Temperature reads, is;
};

enum class VesselKind { pot, bath, smoker, oven, fridge, hot_box, room };
constexpr bool holds_liquid(VesselKind kind) {
    return kind == VesselKind::pot || kind == VesselKind::bath;
}
constexpr bool is_cold(VesselKind kind) {  // nobody heats it
    return kind == VesselKind::fridge || kind == VesselKind::room;
}
// What a pot or a bath holds: only water (stock, milk, brine) stands still at a boiling point of its own.
enum class Liquid { water, syrup, fat };
// What a stage does to the food; the food's rules depend on it. The order is that of recorded events.
enum class Does { cook, brine, chill, hot_hold, cold_hold, rest, thaw, reheat };
std::string_view to_word(Does does);                      // "hot-hold"
std::optional<Does> does_of_word(std::string_view word);  // of such a word; empty: it is none
enum class Shape { slab, cylinder, sphere };
enum class Priority { low, medium, high };

struct ProbeSettings {
    std::string name, driver;
    Duration every{1};
    std::optional<std::pair<Temperature, Temperature>>
        plausible;                              // else from its job, see daemon/conditioning
    std::vector<CalibrationPoint> calibration;  // 0, 1 or 2 points
    FreeKeys options;                           // the driver's own keys
    bool contact = false;                       // a switch: it speaks only when it changes. Set by wiring
    Where where;
};

struct VesselSettings {
    std::string name;
    VesselKind kind = VesselKind::pot;
    int medium = -1;          // probe number; -1 = not probed
    std::vector<int> more;    // further probes in the same medium
    std::optional<int> door;  // probe number of a real door or lid switch
    std::optional<Band> band;
    std::optional<TemperatureDifference> deadband;
    std::optional<Duration> on_delay, off_delay, look_ahead, reach_within;
    Fraction salt{0};
    Liquid liquid = Liquid::water;  // of a pot or a bath
    int room_for = 1;               // dishes at once
    Where where;
};

struct DishSettings {
    std::string name;
    int vessel = -1;                       // vessel number
    int core = -1;                         // probe number; -1 = none
    std::vector<int> more_cores;           // further probes in the same dish; the worst one decides
    std::string food;                      // a food class of daemon/food; "" = not said
    std::vector<std::string> preparation;  // what was done to it: words of daemon/food/hazards
    std::optional<Shape> shape;
    std::optional<Length> thickness;
    std::optional<Mass> mass;
    std::string plan;                      // name of a plan in Settings::plans; "" = none
    std::optional<std::int64_t> serve_at;  // wall time, ms since 1970 UTC
    std::string cooling_rule;              // "food-code", "fsis-..."; "" = the kitchen's
    Where where;
};

struct Until {  // all that are set must hold
    std::optional<Temperature> core;
    std::optional<Duration> time;
    std::optional<double> lethality;  // log10
    bool none() const { return !core && !time && !lethality; }
    bool only_time() const { return time && !core && !lethality; }
};

struct StageSettings {
    std::string name;
    std::optional<Does> does;  // empty = not said: see daemon/food/phase
    int vessel = -1;           // -1 = the dish's vessel
    std::optional<Band> band;
    Until until;
    std::optional<Duration> at_least, at_most;
    std::optional<Temperature> core_most;  // the core must not pass this
    std::optional<Duration> hands;         // how long the cook is needed at its begin
    bool counts_from_begin = false;        // its time; else from the moment that its band is reached
    Duration excursion{600};  // out of its band, or unread, for so long in one go its time goes on
    Where where;
};

struct PlanSettings {
    std::string name, file;
    std::string text;  // of the plan file: what a cook that began with it goes on by
    std::vector<StageSettings> stages;
    // Vessel names of stages, resolved when a dish uses the plan; parallel to `stages`, "" = the dish's.
    std::vector<std::string> stage_vessels;
    Where where;
};

struct ChannelSettings {
    std::string name, kind;
    Priority least = Priority::low;
    Duration after{0};
    FreeKeys options;  // the kind's own keys
    Where where;
};

struct ServeSettings {
    bool tcp = false;
    std::string address = "127.0.0.1";
    int port = 8094;
    // Where the token stands; the token itself is filled in by daemon/wiring/validation.
    std::string token_file, token_env, token;
    Where token_where;
};

// When the cook is there, on the clock of the kitchen's zone: minutes since midnight, 0 to 1439. An end
// before the begin is of the next day.
struct AwakeHours {
    int from = 0, to = 0;
    friend bool operator==(AwakeHours, AwakeHours) = default;
};

struct Settings {
    std::string file;  // the kitchen file, as given
    std::string name;
    TemperatureUnit units = TemperatureUnit::celsius;
    std::optional<Length> altitude;
    std::optional<Pressure> pressure;  // station pressure; wins over altitude
    std::string logbook = "logbook.db";
    Where logbook_where{};
    std::optional<Duration> keep_readings;  // outside cooks; empty = for ever. Minutes stay
    std::string cooling_rule = "food-code";
    std::string zone;                 // IANA name; "" = the system's
    std::optional<AwakeHours> awake;  // no hands outside; empty: always
    std::vector<ProbeSettings> probes;
    std::vector<VesselSettings> vessels;
    std::vector<DishSettings> dishes;
    std::vector<ChannelSettings> channels;
    std::vector<PlanSettings> plans;
    ServeSettings serve;
};

// The place of the entry of this name, from 0; -1: there is none.
template <class Entry>
int number_of(std::vector<Entry> const& entries, std::string_view name) {
    auto const found = std::ranges::find(entries, name, &Entry::name);
    return found == entries.end() ? -1 : static_cast<int>(found - entries.begin());
}

}  // namespace ingle
