#include "config/sections.hpp"

#include <array>

#include "config/calibration.hpp"
#include "config/civil_time/time_zone.hpp"
#include "config/height.hpp"
#include "config/station_pressure.hpp"

namespace ingle {
namespace {

using Words = std::string_view;

constexpr std::array priorities{Words("low"), Words("medium"), Words("high")};
// The words of daemon/food; a test there holds the two against each other.
constexpr std::array cooling_rules{Words("food-code"), Words("food-code-140"), Words("fsis"),
                                   Words("fsis-1"),    Words("fsis-2"),        Words("fsis-3")};
constexpr double least_kept_s = 7 * 86'400;

constexpr std::array units{Words("degC"), Words("degF")};

// The keys that say where a probe is wired: two probes that agree in all of them are one sensor.
constexpr std::array place_keys{Words("port"),     Words("host"),    Words("address"), Words("function"),
                                Words("register"), Words("channel"), Words("chip"),    Words("clock"),
                                Words("data"),     Words("select"),  Words("spi"),     Words("id"),
                                Words("device"),   Words("root"),    Words("broker"),  Words("topic"),
                                Words("field"),    Words("file"),    Words("column")};

void check_zone(Reader& reader, std::string const& zone, std::vector<ConfigError>& warnings) {
    if (zone.empty() || TimeZone::named(zone)) return;
    if (has_zone_files())
        reader.wrong("zone", "is " + in_quotes(zone) + ", and this machine knows no such time zone",
                     "write a name such as \"Europe/Berlin\" (Debian's package tzdata)");
    else
        warnings.push_back(
            {reader.where("zone"), "kitchen.zone",
             "is " + in_quotes(zone) + ", and this machine has no time zones: times are in UTC",
             "install Debian's package tzdata"});
}

// "06:30": minutes since midnight.
std::optional<int> time_of_day(std::string const& text) {
    bool const shaped = text.size() == 5 && text[2] == ':' &&
                        text.find_first_not_of("0123456789:") == std::string::npos && text.rfind(':') == 2;
    if (!shaped) return std::nullopt;
    int const hour = (text[0] - '0') * 10 + text[1] - '0', minute = (text[3] - '0') * 10 + text[4] - '0';
    if (hour > 23 || minute > 59) return std::nullopt;
    return hour * 60 + minute;
}

std::optional<AwakeHours> read_awake(Reader& reader) {
    constexpr std::string_view form = "write two times of the day, like [\"06:30\", \"23:00\"]";
    auto const* node = reader.take("awake");
    if (!node) return std::nullopt;
    auto const* list = node->list();
    if (!list || list->size() != 2 || !(*list)[0].text() || !(*list)[1].text()) {
        reader.wrong("awake", "is not a list of two times", std::string(form));
        return std::nullopt;
    }
    int minutes[2] = {};
    for (std::size_t i = 0; i < 2; ++i) {
        auto const& text = *(*list)[i].text();
        auto const read = time_of_day(text);
        if (!read) {
            reader.wrong((*list)[i].where, "awake", in_quotes(text) + " is no time of the day",
                         std::string(form));
            return std::nullopt;
        }
        minutes[i] = *read;
    }
    if (minutes[0] == minutes[1]) {
        reader.wrong("awake", "begins and ends at the same time",
                     "two different times; leave it out where somebody is always there");
        return std::nullopt;
    }
    return AwakeHours{minutes[0], minutes[1]};
}

void read_serve(Node const& table, Loaded& loaded) {
    auto& serve = loaded.settings.serve;
    Reader reader(table, "serve", loaded.errors);
    serve.tcp = reader.flag("tcp").value_or(true);
    serve.address = reader.text("address").value_or(serve.address);
    // A token in the file itself is refused before it is used; settings that were stored long ago may have
    // one.
    for (auto const& [key, value] : {std::pair{"token", &serve.token},
                                     {"token-file", &serve.token_file},
                                     {"token-env", &serve.token_env}})
        if (auto text = reader.text(key)) *value = std::move(*text), serve.token_where = reader.where(key);
    bool const guarded = !(serve.token + serve.token_file + serve.token_env).empty();
    if (auto const port = reader.number("port")) {
        if (*port >= 1 && *port <= 65535 && *port == static_cast<int>(*port))
            serve.port = static_cast<int>(*port);
        else
            reader.wrong("port", "is no port number", "a whole number from 1 to 65535");
    }
    bool const loopback =
        serve.address == "localhost" || serve.address == "::1" || serve.address.starts_with("127.");
    if (serve.tcp && !loopback && !guarded)
        reader.wrong("token-file",
                     "is missing, and " + in_quotes(serve.address) + " can be reached from outside",
                     "name the file of a token, or address = \"127.0.0.1\"");
    reader.refuse_the_rest();
}

std::vector<CalibrationPoint> read_calibration(Reader& probe, std::string const& prefix,
                                               std::vector<ConfigError>& errors) {
    std::vector<CalibrationPoint> points;
    std::vector<Where> places;
    auto const* node = probe.take("calibration");
    if (!node) return points;
    constexpr std::string_view form =
        "write [{ reads = \"33.1 degF\", is = \"32 degF\" }], one or two of them";
    auto const* list = node->list();
    if (!list) {
        probe.wrong("calibration", "is " + std::string(kind_of(*node)), std::string(form));
        return points;
    }
    for (auto const& item : *list) {
        if (!item.table()) {
            probe.wrong(item.where, "calibration", "holds " + std::string(kind_of(item)), std::string(form));
            continue;
        }
        Reader reader(item, prefix + ".calibration", errors);
        reader.need("reads", std::string(form));
        reader.need("is", std::string(form));
        auto const reads = reader.quantity("reads", parse_temperature);
        auto const is = reader.quantity("is", parse_temperature);
        reader.refuse_the_rest();
        if (!reads || !is) continue;
        points.push_back({*reads, *is});
        places.push_back(item.where);
    }
    if (points.size() != list->size()) return {};
    for (auto const& problem : calibration_problems(points)) {
        if (problem.point)
            probe.wrong(places[*problem.point], "calibration", problem.wrong, problem.right);
        else
            probe.wrong("calibration", problem.wrong, problem.right);
    }
    return points;
}

void warn_of_bare_tty(ProbeSettings const& probe, std::vector<ConfigError>& warnings) {
    for (auto const& [key, free] : probe.options)
        if (auto const* text = std::get_if<std::string>(&free.value);
            text && (text->starts_with("/dev/ttyUSB") || text->starts_with("/dev/ttyACM")))
            warnings.push_back(
                {free.where, "probe." + probe.name + "." + key,
                 in_quotes(*text) + " is numbered in the order of plugging in and may become another",
                 "take its name in /dev/serial/by-id/ or /dev/serial/by-path/"});
}

bool same_place(ProbeSettings const& a, ProbeSettings const& b) {
    // Nothing is wired to a simulated probe, and several may look at one dish.
    if (a.driver != b.driver || a.driver == "simulated") return false;
    // A column that is not said has the probe's own name.
    if (a.driver == "recorded" && !a.options.contains("column") && !b.options.contains("column"))
        return false;
    bool any = false;
    for (auto const key : place_keys) {
        auto const in_a = a.options.find(key), in_b = b.options.find(key);
        bool const has_a = in_a != a.options.end(), has_b = in_b != b.options.end();
        if (has_a != has_b || (has_a && in_a->second.value != in_b->second.value)) return false;
        any = any || has_a;
    }
    return any;
}

void refuse_shared_places(std::vector<ProbeSettings> const& probes, std::vector<ConfigError>& errors) {
    for (std::size_t i = 0; i < probes.size(); ++i)
        for (std::size_t j = 0; j < i; ++j)
            if (same_place(probes[i], probes[j])) {
                errors.push_back({probes[i].where, "probe." + probes[i].name,
                                  "is wired to the same place as the probe " + in_quotes(probes[j].name) +
                                      " in line " + std::to_string(probes[j].where.line),
                                  "give each its own channel, register or line, or remove one"});
                break;
            }
}

}  // namespace

void check_cooling_rule(Reader& reader, std::string const& rule) {
    if (std::ranges::find(cooling_rules, rule) == cooling_rules.end())
        reader.wrong("cooling-rule", in_quotes(rule) + " is not known", "write " + listed(cooling_rules));
}

std::string entry_prefix(Node const& table, std::string_view section, std::size_t place) {
    auto const* name = table.find("name");
    if (name && name->text() && !name->text()->empty()) return std::string(section) + '.' + *name->text();
    return std::string(section) + '[' + std::to_string(place + 1) + ']';
}

std::string read_name(Reader& reader) {
    reader.need("name", "give it a name of lower-case letters, digits and '-'");
    auto const name = reader.text("name");
    if (!name) return "";
    auto const allowed = [](char c) { return (c >= 'a' && c <= 'z') || (c >= '0' && c <= '9') || c == '-'; };
    if (std::ranges::all_of(*name, allowed)) {
        bool const number = std::ranges::all_of(*name, [](char c) { return c >= '0' && c <= '9'; });
        if (!name->empty() && (name->front() == '-' || number))
            reader.wrong(
                "name",
                in_quotes(*name) +
                    (number ? " would be taken for a number" : " would be taken for an option"),
                "let it begin with a letter, like \"pot-" + std::string(name->substr(number ? 0 : 1)) + "\"");
        return *name;
    }
    std::string better;
    for (auto const c : *name)
        better += allowed(c) ? c : (c >= 'A' && c <= 'Z') ? static_cast<char>(c - 'A' + 'a') : '-';
    reader.wrong("name", in_quotes(*name) + " has characters that a name cannot have",
                 "write lower-case letters, digits and '-', like " + in_quotes(better));
    return *name;
}

void read_kitchen(Node const& document, Loaded& loaded) {
    auto& settings = loaded.settings;
    Reader top(document, "", loaded.errors);
    top.need("kitchen", "begin the file with [kitchen]");
    if (auto const* node = top.take("kitchen")) {
        Reader reader(*node, "kitchen", loaded.errors);
        if (!node->table()) top.wrong("kitchen", "is " + std::string(kind_of(*node)), "write [kitchen]");
        settings.name = reader.text("name").value_or("kitchen");
        if (settings.name.find_first_not_of(" \t") == std::string::npos)
            reader.wrong("name", "is blank", "write the kitchen's name, like \"village hall\"");
        if (reader.word("units", units) == "degF") settings.units = TemperatureUnit::fahrenheit;
        settings.altitude = reader.quantity("altitude", parse_height);
        if (settings.altitude && (settings.altitude->metres < -500 || settings.altitude->metres > 6000))
            reader.wrong("altitude", "is no height at which people cook", "from -500 m to 6000 m");
        settings.pressure = reader.quantity("pressure", parse_pressure);
        if (settings.pressure && !is_station_pressure(*settings.pressure))
            reader.wrong("pressure", "is no pressure of the air", station_pressure_range);
        settings.logbook_where = reader.where("logbook");
        settings.logbook = reader.text("logbook").value_or(settings.logbook);
        settings.keep_readings = reader.quantity("keep-readings", parse_duration);
        if (settings.keep_readings && settings.keep_readings->seconds < least_kept_s)
            reader.wrong("keep-readings", "is too short to look back at", "from 7 days");
        settings.zone = reader.text("zone").value_or("");
        check_zone(reader, settings.zone, loaded.warnings);
        settings.awake = read_awake(reader);
        settings.cooling_rule = reader.text("cooling-rule").value_or(settings.cooling_rule);
        check_cooling_rule(reader, settings.cooling_rule);
        if (node->table()) reader.refuse_the_rest();
    }
    if (auto const* probes = top.tables("probe")) read_probes(*probes, loaded);
    if (auto const* vessels = top.tables("vessel")) read_vessels(*vessels, loaded);
    if (auto const* dishes = top.tables("dish")) read_dishes(*dishes, loaded);
    if (auto const* channels = top.tables("channel")) read_channels(*channels, loaded);
    if (auto const* serve = top.take("serve")) {
        if (serve->table())
            read_serve(*serve, loaded);
        else
            top.wrong("serve", "is " + std::string(kind_of(*serve)), "write [serve]");
    }
    top.refuse_the_rest();
    if (settings.probes.empty())
        loaded.warnings.push_back({document.where, "probe", "no probe is wired", "add a [[probe]]"});
}

void read_probes(Node::List const& tables, Loaded& loaded) {
    auto& probes = loaded.settings.probes;
    for (auto const& table : tables) {
        auto const prefix = entry_prefix(table, "probe", probes.size());
        Reader reader(table, prefix, loaded.errors);
        ProbeSettings probe;
        probe.where = table.where;
        probe.name = read_name(reader);
        reader.need("driver", "name the driver, like \"serial-line\"");
        probe.driver = reader.text("driver").value_or("");
        if (auto const every = reader.quantity("every", parse_duration)) {
            probe.every = *every;
            if (every->seconds < 0.1 || every->seconds > 3600)
                reader.wrong("every", show(*every) + " is out of range", "from 100 ms to 1 h");
        }
        probe.plausible = reader.range("plausible");
        probe.calibration = read_calibration(reader, prefix, loaded.errors);
        probe.options = reader.take_the_rest();
        warn_of_bare_tty(probe, loaded.warnings);
        probes.push_back(std::move(probe));
    }
    refuse_doubles(probes, "probe", loaded.errors);
    refuse_shared_places(probes, loaded.errors);
}

void read_channels(Node::List const& tables, Loaded& loaded) {
    auto& channels = loaded.settings.channels;
    for (auto const& table : tables) {
        Reader reader(table, entry_prefix(table, "channel", channels.size()), loaded.errors);
        ChannelSettings channel;
        channel.where = table.where;
        channel.name = read_name(reader);
        reader.need("kind", "say how it is sent, such as kind = \"webhook\"");
        channel.kind = reader.text("kind").value_or("");  // daemon/notices knows which ones there are
        if (auto const least = reader.word("least", priorities))
            channel.least = *least == "high"     ? Priority::high
                            : *least == "medium" ? Priority::medium
                                                 : Priority::low;
        channel.after = reader.quantity("after", parse_duration).value_or(Duration{0});
        channel.options = reader.take_the_rest();
        channels.push_back(std::move(channel));
    }
    refuse_doubles(channels, "channel", loaded.errors);
}

}  // namespace ingle
