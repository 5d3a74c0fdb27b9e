#include "daemon/web/commands.hpp"

#include <array>
#include <utility>

#include <nlohmann/json.hpp>

#include "config/calibration.hpp"
#include "config/civil_time/iso_time.hpp"
#include "config/did_you_mean.hpp"
#include "config/limits.hpp"
#include "config/plain_text.hpp"
#include "config/station_pressure.hpp"
#include "daemon/model/shelving.hpp"
#include "daemon/model/timer_length.hpp"

namespace ingle {
namespace {

using Json = nlohmann::json;

// Thrown and caught in this file only: the first mistake of a body ends its reading.
struct Mistake {
    BadCommand bad;
};

[[noreturn]] void fail(std::string text, int status = 400) {
    throw Mistake{{status, std::move(text)}};
}

class Body {
public:
    Body(std::string_view text, Settings const& settings) : settings_(settings) {
        json_ = text.empty() ? Json::object() : Json::parse(text, nullptr, false);
        if (json_.is_discarded()) fail("the body is not JSON");
        if (!json_.is_object()) fail("the body must be a JSON object");
    }

    void only(std::initializer_list<std::string_view> known) const {
        for (auto const& [key, value] : json_.items()) {
            bool found = false;
            std::string list;
            for (auto const name : known) {
                found = found || key == name;
                list.append(list.empty() ? "" : ", ").append(name);
            }
            if (!found) fail("\"" + key + "\" is not known here; known: " + list);
        }
    }

    bool has(char const* key) const { return json_.contains(key) && !json_[key].is_null(); }
    bool is_null(char const* key) const { return json_.contains(key) && json_[key].is_null(); }

    std::string text(char const* key) const {
        if (!has(key)) fail(std::string("\"") + key + "\" is missing");
        if (!json_[key].is_string()) fail(std::string("\"") + key + "\" must be a string");
        auto text = json_[key].get<std::string>();
        if (!is_plain_text(text))
            fail(std::string("\"") + key + "\" holds a control character, or one that turns the writing");
        return text;
    }
    std::string text_or(char const* key, std::string otherwise) const {
        return has(key) ? text(key) : std::move(otherwise);
    }
    bool flag(char const* key) const {
        if (!has(key) || !json_[key].is_boolean()) fail(std::string("\"") + key + "\" must be true or false");
        return json_[key].get<bool>();
    }
    std::int64_t integer(char const* key) const {
        if (!has(key) || !json_[key].is_number_integer() ||
            (json_[key].is_number_unsigned() && json_[key].get<std::uint64_t>() > INT64_MAX)) {
            fail(std::string("\"") + key + "\" must be a whole number");
        }
        return json_[key].get<std::int64_t>();
    }

    // A quantity as text; a bare JSON number gets the same sentence as a bare number in the kitchen file.
    template <class Q>
    Q quantity(char const* key, Parsed<Q> (*parse)(std::string_view)) const {
        if (!has(key)) fail(std::string("\"") + key + "\" is missing");
        return quantity_of(json_[key], key, parse);
    }
    template <class Q>
    static Q quantity_of(Json const& value, char const* key, Parsed<Q> (*parse)(std::string_view)) {
        if (!value.is_string() && !value.is_number())
            fail(std::string("\"") + key + "\" must be text with a unit");
        auto const text = value.is_string() ? value.get<std::string>() : value.dump();
        auto const parsed = parse(text);
        if (auto const* error = std::get_if<QuantityError>(&parsed)) {
            fail(std::string(key) + ": " + error->wrong + "; " + error->right);
        }
        return std::get<Q>(parsed);
    }

    std::optional<BandMistake> mistake_in(Band band, int vessel) const {
        return mistake_in_band(band, settings_.vessels[static_cast<std::size_t>(vessel)], settings_);
    }
    int vessel(char const* key) const { return number_of(text(key), settings_.vessels, "vessel"); }
    int dish(char const* key) const { return number_of(text(key), settings_.dishes, "dish"); }
    int probe(char const* key) const { return number_of(text(key), settings_.probes, "probe"); }

    // "stockpot", or "probe stock" where a name is used twice.
    Subject subject(char const* key) const {
        auto const name = text(key);
        constexpr std::array kinds{std::pair{"vessel ", SubjectKind::vessel},
                                   std::pair{"dish ", SubjectKind::dish},
                                   std::pair{"probe ", SubjectKind::probe}};
        for (auto const& [prefix, kind] : kinds) {
            auto const bare = name.starts_with(prefix) ? name.substr(std::string_view(prefix).size()) : name;
            int const found = kind == SubjectKind::vessel ? find(bare, settings_.vessels)
                              : kind == SubjectKind::dish ? find(bare, settings_.dishes)
                                                          : find(bare, settings_.probes);
            if (found >= 0) return {kind, found};
            if (bare != name) break;
        }
        if (name == "kitchen") return {};
        auto known = names_of(settings_.vessels);
        for (auto const& more : {names_of(settings_.dishes), names_of(settings_.probes)})
            known.insert(known.end(), more.begin(), more.end());
        fail("nothing in this kitchen is called \"" + name + "\"" + did_you_mean(name, known), 404);
    }

    // Who says it; "" = nobody is named.
    std::string who() const {
        auto by = text_or("by", "");
        if (by.size() > longest_who) fail("\"by\" may have " + std::to_string(longest_who) + " bytes");
        return by;
    }

    Json const& json() const { return json_; }

private:
    static constexpr std::size_t longest_who = 100;

    template <class Items>
    static int find(std::string const& name, Items const& items) {
        for (std::size_t i = 0; i < items.size(); ++i)
            if (items[i].name == name) return static_cast<int>(i);
        return -1;
    }
    template <class Items>
    static int number_of(std::string const& name, Items const& items, char const* what) {
        int const found = find(name, items);
        if (found >= 0) return found;
        std::string known;
        for (auto const& item : items) known += (known.empty() ? "" : ", ") + item.name;
        fail(std::string("there is no ") + what + " \"" + name + "\"; " +
                 (known.empty() ? "this kitchen has none" : "there are: " + known) +
                 did_you_mean(name, names_of(items)),
             404);
    }

    Json json_;
    Settings const& settings_;
};

// Dry ice and the flame of a burner lie between (common practice, no source).
constexpr double coldest_asked_c = -100, hottest_asked_c = 2000;

Span length_of_timer(Body const& body) {
    auto const length = body.quantity<Duration>("for", parse_duration);
    if (from_seconds(length.seconds) <= Span(0)) fail("\"for\" must be longer than nothing");
    if (length.seconds > seconds(longest_timer)) fail(timer_too_long);
    return from_seconds(length.seconds);
}

Command read_hold(Body const& body) {
    body.only({"vessel", "low", "high", "band", "for"});
    int const vessel = body.vessel("vessel");
    if (body.is_null("band")) return Hold{vessel, {}};
    auto const low = body.quantity<Temperature>("low", parse_temperature);
    auto const high = body.quantity<Temperature>("high", parse_temperature);
    if (auto const mistake = body.mistake_in(Band{low, high}, vessel))
        fail(mistake->wrong + "; " + mistake->right);
    if (!body.has("for")) return Hold{vessel, Band{low, high}};
    return Hold{vessel, Band{low, high}, length_of_timer(body)};
}

// A wall time as an instant of this boot.
Instant read_moment(Body const& body, char const* key, std::optional<std::int64_t> offset_ms) {
    auto const quoted = "\"" + std::string(key) + "\"";
    auto const when = parse_iso_time(body.text(key));
    if (!when) fail(quoted + " must be ISO 8601 with offset, such as 2026-11-26T14:05:00-05:00");
    if (!offset_ms) fail("the daemon does not know the time yet, so " + quoted + " cannot be placed", 409);
    return Instant(when->time_since_epoch() - Span(*offset_ms));
}

std::optional<Instant> read_when(Body const& body, std::optional<std::int64_t> offset_ms) {
    return body.has("when") ? std::optional(read_moment(body, "when", offset_ms)) : std::nullopt;
}

Command read_note(Body const& body, std::optional<std::int64_t> offset_ms) {
    body.only({"text", "about", "when"});
    Note note;
    note.text = body.text("text");
    if (note.text.empty()) fail("the note is empty");
    if (body.has("about")) note.about = body.subject("about");
    note.when = read_when(body, offset_ms);
    return note;
}

Command read_shelve(Body const& body) {
    body.only({"alarm", "for", "by"});
    auto const length = body.quantity<Duration>("for", parse_duration);
    if (from_seconds(length.seconds) <= Span(0))
        fail("\"for\" must be longer than nothing; end a shelving with \"unshelve\"");
    if (length.seconds > seconds(longest_shelving)) fail(shelving_too_long);
    return Shelve{body.integer("alarm"), from_seconds(length.seconds), body.who()};
}

Command read_pressure(Body const& body) {
    body.only({"pressure"});
    auto const pressure = body.quantity<Pressure>("pressure", parse_pressure);
    if (!is_station_pressure(pressure))
        fail(std::string("\"pressure\" is no pressure of the air: ") + station_pressure_range);
    return PressureNow{pressure};
}

Command read_calibrate(Body const& body) {
    body.only({"probe", "points"});
    Calibrate calibrate{body.probe("probe"), {}};
    if (!body.has("points") || !body.json()["points"].is_array()) fail("\"points\" must be a list");
    for (auto const& point : body.json()["points"]) {
        if (!point.is_object() || !point.contains("reads") || !point.contains("is")) {
            fail("each point is {\"reads\": \"33.1 degF\", \"is\": \"32 degF\"}");
        }
        calibrate.points.push_back(
            {Body::quantity_of<Temperature>(point["reads"], "reads", parse_temperature),
             Body::quantity_of<Temperature>(point["is"], "is", parse_temperature)});
    }
    if (auto const wrong = calibration_problems(calibrate.points); !wrong.empty())
        fail("the calibration " + wrong.front().wrong + ": " + wrong.front().right);
    return calibrate;
}

Command read_timer(Body const& body) {
    body.only({"for", "text"});
    return StartTimer{length_of_timer(body), body.text_or("text", "")};
}

// "at": a moment to come; "in": once, so long from now; "every"; "temperature" of "about"; "stage-of": a
// dish.
Command read_remind(Body const& body, std::optional<std::int64_t> offset_ms) {
    body.only({"text", "at", "in", "every", "temperature", "about", "stage-of"});
    Remind remind;
    remind.text = body.text("text");
    int const kinds =
        body.has("at") + body.has("in") + body.has("every") + body.has("temperature") + body.has("stage-of");
    if (kinds != 1) fail("a reminder has one of \"at\", \"in\", \"every\", \"temperature\" and \"stage-of\"");
    if (body.has("at")) remind.at = read_moment(body, "at", offset_ms);
    if (body.has("in")) remind.in = from_seconds(body.quantity<Duration>("in", parse_duration).seconds);
    if (body.has("every"))
        remind.every = from_seconds(body.quantity<Duration>("every", parse_duration).seconds);
    if (body.has("temperature")) {
        remind.celsius = body.quantity<Temperature>("temperature", parse_temperature).celsius;
        if (*remind.celsius < coldest_asked_c || *remind.celsius > hottest_asked_c)
            fail("\"temperature\" is one that nothing in a kitchen comes to");
        remind.about = body.subject("about");
    } else if (body.has("about")) {
        fail("\"about\" goes with \"temperature\": what comes to it");
    }
    if (body.has("stage-of")) {
        remind.stage_end = true;
        remind.about = {SubjectKind::dish, body.dish("stage-of")};
    }
    return remind;
}

// "at": one instant, or what the kitchen's clock is to show; null: no serving time.
Command read_serve(Body const& body, TimeZone const& zone) {
    body.only({"dish", "at"});
    ServeAt serve{body.dish("dish"), {}};
    if (body.is_null("at")) return serve;
    auto const text = body.text("at");
    if (auto const at = parse_iso_time(text)) {
        serve.at = at->time_since_epoch().count();
        return serve;
    }
    auto const local = parse_iso_time(text + "Z");
    if (!local)
        fail(
            "\"at\" must be ISO 8601, such as 2026-11-26T17:00:00-05:00, or 2026-11-26T17:00 by the "
            "kitchen's clock");
    auto const found = zone.instants(LocalTime(local->time_since_epoch()));
    if (found.missing) fail("the clocks are put forward over that time: it does not come");
    serve.at = found.first.time_since_epoch().count();
    return serve;
}

std::optional<Command> read(std::string_view name, Body const& body, std::optional<std::int64_t> offset_ms,
                            TimeZone const& zone) {
    if (name == "serve") return read_serve(body, zone);
    if (name == "hold") return read_hold(body);
    if (name == "note") return read_note(body, offset_ms);
    if (name == "shelve") return read_shelve(body);
    if (name == "pressure") return read_pressure(body);
    if (name == "calibrate") return read_calibrate(body);
    if (name == "timer") return read_timer(body);
    if (name == "remind") return read_remind(body, offset_ms);
    if (name == "stop-reminder") {
        body.only({"reminder"});
        return StopReminder{body.integer("reminder")};
    }
    if (name == "stop-timer") {
        body.only({"timer"});
        return StopTimer{body.integer("timer")};
    }
    if (name == "begin") {
        body.only({"dish", "when"});
        return Begin{body.dish("dish"), read_when(body, offset_ms)};
    }
    if (name == "next") {
        body.only({"dish", "again"});
        return Next{body.dish("dish"), body.has("again") && body.flag("again")};
    }
    if (name == "end" || name == "back") {
        body.only({"dish"});
        int const dish = body.dish("dish");
        return name == "end" ? Command(End{dish}) : Command(Back{dish});
    }
    if (name == "note-back") {
        body.only({});
        return NoteBack{};
    }
    if (name == "acknowledge") {
        body.only({"alarm", "by"});
        Acknowledge acknowledge;
        if (body.has("alarm")) acknowledge.alarm = body.integer("alarm");
        acknowledge.by = body.who();
        return acknowledge;
    }
    if (name == "unshelve") {
        body.only({"alarm", "by"});
        return Shelve{body.integer("alarm"), Span{0}, body.who()};
    }
    if (name == "out-of-service") {
        body.only({"subject", "out", "by"});
        return OutOfService{body.subject("subject"), body.flag("out"), body.who()};
    }
    if (name == "switch") {
        body.only({"vessel", "open"});
        return Switch{body.vessel("vessel"), body.flag("open")};
    }
    return {};
}

}  // namespace

std::vector<std::string_view> command_names() {
    return {"hold",     "begin",          "next",   "end",       "note",      "acknowledge", "shelve",
            "unshelve", "out-of-service", "switch", "pressure",  "calibrate", "timer",       "stop-timer",
            "remind",   "stop-reminder",  "back",   "note-back", "serve"};
}

std::optional<BadCommand> wrong_time(Command const& command, Instant now) {
    // A clock that is a minute fast is forgiven; another year is not taken for now.
    constexpr Span forgiven = std::chrono::minutes(1), longest_ago = std::chrono::hours(24 * 366);
    std::optional<Instant> when;
    if (auto const* begin = std::get_if<Begin>(&command)) when = begin->when;
    if (auto const* note = std::get_if<Note>(&command)) when = note->when;
    if (when && *when > now + forgiven) return BadCommand{400, "\"when\" is still to come"};
    if (when && *when < now - longest_ago) return BadCommand{400, "\"when\" is more than a year ago"};
    return std::nullopt;
}

std::variant<Command, BadCommand> read_command(std::string_view name, std::string_view body,
                                               Settings const& settings,
                                               std::optional<std::int64_t> offset_ms, TimeZone const& zone) {
    try {
        if (auto command = read(name, Body(body, settings), offset_ms, zone)) return std::move(*command);
    } catch (Mistake& mistake) {
        return std::move(mistake.bad);
    }
    std::string known;
    for (auto const item : command_names()) known.append(known.empty() ? "" : ", ").append(item);
    return BadCommand{404, "there is no command \"" + std::string(name) + "\"; known: " + known};
}

}  // namespace ingle
