// ingle probe calibrate: a probe against ice water, boiling water or a reference, one or two points. The
// readings are the daemon's: it holds the port. Without a terminal, everything is said by options.
#include <unistd.h>

#include <algorithm>
#include <cmath>
#include <iostream>
#include <memory>
#include <thread>

#include "config/calibration.hpp"
#include "daemon/conditioning/calibrate.hpp"
#include "tools/cli/live/now_text.hpp"
#include "tools/cli/past/book.hpp"
#include "tools/cli/probe/bath.hpp"
#include "tools/cli/probe/calibration.hpp"
#include "tools/cli/probe/probe.hpp"

namespace ingle::cli {
namespace {

constexpr double away_k = 10;  // a probe this far from the first bath has left it
constexpr auto look_every = std::chrono::milliseconds(500);
constexpr double tell_every_s = 15;
constexpr double shortest_window_s = 5;

struct Options {
    std::string probe, pressure, steady_for = "3 min", patience = "30 min";
    std::vector<std::string> at;
    bool add = false, large = false, clear = false, json = false;
};

struct Point {
    Bath bath;
    Steadiness steady;
    double is = 0;
    std::string time;
};

class Session {
public:
    Session(Context& context, Options options)
        : context_(context),
          options_(std::move(options)),
          client_(context.socket()),
          window_s_(parsed(options_.steady_for, "--steady-for", parse_duration).seconds),
          patience_s_(parsed(options_.patience, "--give-up-after", parse_duration).seconds),
          talks_(isatty(STDIN_FILENO) && !options_.json) {
        if (window_s_ < shortest_window_s) throw Failure("--steady-for: 5 s at least", wrong_usage);
        auto const now = client_.get("/api/now");
        unit_ = unit_of(now);
        before_ = points_of(find_probe(now, options_.probe));
        for (auto const& probe : now.at("probes")) names_.push_back(text_in(probe, "name"));
        read_settings();
    }

    int run() {
        if (options_.clear) return clear();
        auto baths = options_.at;
        if (baths.empty()) baths.push_back(ask_bath());
        if (baths.size() + (options_.add ? before_.size() : 0) > 2)
            throw Failure("one or two points make a calibration", wrong_usage);
        std::vector<CalibrationPoint> points;
        if (options_.add) points = before_;
        for (auto const& text : baths) points.push_back(measure(text));
        if (points.size() == 1) offer_second(points);
        refuse_doubtful(points);
        store(points);
        return report(points);
    }

private:
    void say(std::string const& text) {
        if (!options_.json) context_.out << text << std::endl;  // at once: the cook waits for it
    }
    std::string answer(std::string const& question) {
        context_.out << question << " " << std::flush;
        std::string line;
        if (!std::getline(std::cin, line)) throw Failure("nothing was stored");
        return line;
    }
    bool yes(std::string const& question) {
        auto const line = answer(question + " [y/n]");
        return !line.empty() && (line.front() == 'y' || line.front() == 'Y');
    }
    std::string shown(double celsius) const { return show(Temperature{celsius}, unit_, 2); }
    std::string difference(double kelvin) const {
        return (kelvin > 0 ? "+" : "") + show(TemperatureDifference{kelvin}, unit_, 2);
    }

    // The kitchen file in force, for altitude and thermocouple type; without it both are unknown.
    void read_settings() {
        try {
            settings_ = Book(context_, "").settings_at(wall_now());
        } catch (Failure const&) {
        }
        auto const found = std::ranges::find(settings_.probes, options_.probe, &ProbeSettings::name);
        if (found == settings_.probes.end()) return;
        auto const type = found->options.find("type");
        auto const* letter =
            type == found->options.end() ? nullptr : std::get_if<std::string>(&type->second.value);
        if (letter) type_ = thermocouple_type_from(*letter);
    }

    std::string ask_bath() {
        if (!talks_)
            throw Failure(
                "say what the probe is in: --at ice, --at boiling, --at NAME-OF-A-PROBE or --at \"62.5 "
                "degC\"",
                wrong_usage);
        say("What is " + options_.probe +
            " held against? \"ice\" (ice water), \"boiling\" (boiling water), the name of a probe that is "
            "right, or\n"
            "what a thermometer that you trust shows beside it, such as \"62.5 degC\".");
        return answer("against:");
    }

    CalibrationPoint measure(std::string const& text) {
        auto const bath = bath_of(text, {options_.probe, names_, options_.pressure, settings_, unit_});
        say((measured_.empty() ? "" : "\nNow the next one. ") + bath.words + ": " + bath.advice);
        auto point = wait_for(bath);
        auto const reads = point.steady.celsius;
        say(options_.probe + " reads " + shown(reads) + " where it is " + shown(point.is) + ": " +
            difference(point.is - reads) + " is to be added.");
        if (std::abs(point.is - reads) > most_calibration_offset.kelvin) {
            auto why = suspicion(reads, point.is, type_, junction_);
            throw Failure(options_.probe + " is more than " + show(most_calibration_offset, unit_, 0) +
                          " off; that is no matter for a calibration: " +
                          (why.empty() ? "is its tip really in " + bath.words +
                                             "? Else look at the probe, its type and its wires, of which "
                                             "two swapped pairs can hide each other"
                                       : why) +
                          ". Nothing was stored");
        }
        measured_.push_back(point);
        return {{reads}, {point.is}};
    }

    // Until the raw reading, and the reference's, are steady; told what is waited for meanwhile.
    Point wait_for(Bath const& bath) {
        std::vector<Sample> raw, reference;
        bool away = measured_.empty();
        auto const began = std::chrono::steady_clock::now();
        double last_told = -tell_every_s;
        for (;; std::this_thread::sleep_for(look_every)) {
            auto const now = client_.get("/api/now");
            auto const& probe = find_probe(now, options_.probe);
            auto why = take(now, probe, true, raw);
            junction_ = number_in(probe.value("raw", Json::object()), "cold_junction_c");
            if (!away && !raw.empty() &&
                std::abs(raw.back().celsius - measured_.back().steady.celsius) > away_k)
                away = true;
            if (!away) {
                raw.clear();
                why = "still where it was";
            }
            if (why.empty() && !bath.reference.empty()) {
                why = take(now, find_probe(now, bath.reference), false, reference);
                if (!why.empty()) why = bath.reference + ": " + why;
            }
            auto const state = steadiness(raw, window_s_, unit_);
            if (why.empty()) why = state.why_not;
            Point point{bath, state, bath.is.value_or(0), text_in(now, "at")};
            if (why.empty() && !bath.reference.empty()) {
                auto const other = steadiness(reference, window_s_, unit_);
                point.is = other.celsius;
                if (!other.steady) why = bath.reference + ": " + other.why_not;
            }
            if (why.empty()) return point;
            auto const passed =
                std::chrono::duration<double>(std::chrono::steady_clock::now() - began).count();
            if (passed > patience_s_)
                throw Failure(options_.probe + " did not become steady (" + why + "); nothing was stored");
            if (passed - last_told >= tell_every_s) {
                last_told = passed;
                bool const elsewhere =
                    bath.is && !raw.empty() &&
                    std::abs(raw.back().celsius - *bath.is) > most_calibration_offset.kelvin;
                say("  " + (raw.empty() ? std::string("-") : shown(raw.back().celsius)) + ", " + why +
                    (elsewhere ? "; that is far from " + bath.words + ": is the tip in it?" : ""));
            }
        }
    }

    // Adds the newest value, if it is new; or says why there is none, and forgets those before it.
    std::string take(Json const& now, Json const& probe, bool before_calibration, std::vector<Sample>& into) {
        auto const raw = probe.value("raw", Json());
        auto const& from = before_calibration ? raw : probe;
        auto const celsius = from.is_object() ? number_in(from, "celsius") : std::nullopt;
        auto const age = from.is_object() ? number_in(from, "age_s") : std::nullopt;
        if (!celsius || !age) {
            into.clear();
            auto const why = from.is_object() ? text_in(from, "reason") : std::string();
            return why.empty() ? "no reading" : why;
        }
        auto const at = now.value("boot_s", 0.0) - *age;
        constexpr double same = 0.002;  // s: both are rounded
        if (into.empty() || at - into.back().at_s > same) into.push_back({at, *celsius});
        return {};
    }

    void offer_second(std::vector<CalibrationPoint>& points) {
        if (!talks_ || !options_.at.empty()) return;
        bool const large = std::abs(points[0].is.celsius - points[0].reads.celsius) > large_correction;
        say(large ? "That is a large correction, and a bath can be that wrong. A second point tells which."
                  : "A second point, far from this one, makes it right over the whole range.");
        auto const next =
            answer("second point (\"boiling\", \"ice\", a probe, a temperature; nothing = none):");
        if (!next.empty()) points.push_back(measure(next));
    }

    void refuse_doubtful(std::vector<CalibrationPoint> const& points) {
        if (auto const doubt = doubt_about(points)) throw Failure(*doubt + ". Nothing was stored");
        bool const large = std::ranges::any_of(points, [](CalibrationPoint const& p) {
            return std::abs(p.is.celsius - p.reads.celsius) > large_correction;
        });
        if (!large || options_.large || confirm_each_other(points)) return;
        auto const limit = show(TemperatureDifference{large_correction}, unit_, 1);
        if (talks_ && yes("A correction of more than " + limit + ": are you sure of the bath?")) return;
        throw Failure("a correction of more than " + limit +
                      " is not stored from a single point: check a second point (--at ice --at boiling), or "
                      "say --accept-large. Nothing was stored");
    }

    void store(std::vector<CalibrationPoint> const& points) {
        if (talks_ && !yes("Store it?")) throw Failure("nothing was stored");
        Json list = Json::array();
        for (auto const& point : points)
            list.push_back({{"reads", exact(point.reads)}, {"is", exact(point.is)}});
        client_.post("/api/commands/calibrate", {{"probe", options_.probe}, {"points", list}});
        client_.post("/api/commands/note", {{"about", "probe " + options_.probe}, {"text", story(points)}});
    }

    // To a ten-thousandth: what the daemon stores and shows.
    static std::string exact(Temperature t) { return show(t, TemperatureUnit::celsius, 4); }

    // For the logbook: what was measured, how well, and what it replaced.
    std::string story(std::vector<CalibrationPoint> const& points) const {
        std::string text = options_.probe + " calibrated.";
        if (options_.add && !before_.empty()) text += " One point was kept.";
        for (auto const& point : measured_) {
            auto const& s = point.steady;
            text += " In " + point.bath.words + ": reads " + shown(s.celsius) + ", is " + shown(point.is) +
                    " (" + std::to_string(s.count) + " readings in " + show(Duration{s.lasted_s}) +
                    ", scatter " + show(TemperatureDifference{s.scatter}, unit_, 2) + ", drift " +
                    difference(s.drift) + " a minute).";
        }
        auto const line = calibration_from(points), was = calibration_from(before_);
        for (double const at : {0.0, 100.0})
            text += " At " + shown(at) + " " + difference(line.apply(at) - at) + " is added, before " +
                    difference(was.apply(at) - at) + ".";
        return text;
    }

    int report(std::vector<CalibrationPoint> const& points) {
        auto const line = calibration_from(points);
        if (options_.json) {
            Json list = Json::array(), was = Json::array();
            for (auto const& point : measured_)
                list.push_back({{"against", point.bath.words},
                                {"reads_c", point.steady.celsius},
                                {"is_c", point.is},
                                {"scatter_k", point.steady.scatter},
                                {"drift_k_per_min", point.steady.drift},
                                {"readings", point.steady.count},
                                {"at", point.time}});
            for (auto const& p : before_)
                was.push_back({{"reads_c", p.reads.celsius}, {"is_c", p.is.celsius}});
            context_.out << Json{{"probe", options_.probe},
                                 {"measured", list},
                                 {"before", was},
                                 {"gain", line.gain},
                                 {"offset_k", line.offset}}
                                .dump(2)
                         << "\n";
            return done;
        }
        say(options_.probe +
            " is read with this calibration from now on; what was recorded before keeps its own.\n"
            "The daemon remembers it. To have it in the kitchen file as well:\n  " +
            kitchen_line(points, unit_));
        return done;
    }

    int clear() {
        client_.post("/api/commands/calibrate", {{"probe", options_.probe}, {"points", Json::array()}});
        client_.post("/api/commands/note",
                     {{"about", "probe " + options_.probe},
                      {"text", options_.probe + ": the calibration was taken away; it was " +
                                   kitchen_line(before_, unit_) + "."}});
        if (options_.json)
            context_.out << Json{{"probe", options_.probe},
                                 {"measured", Json::array()},
                                 {"gain", 1.0},
                                 {"offset_k", 0.0}}
                                .dump(2)
                         << "\n";
        else
            say(options_.probe + " is read without calibration from now on.");
        return done;
    }

    Context& context_;
    Options options_;
    Client client_;
    double window_s_, patience_s_;
    bool talks_;  // a person is there to be asked
    TemperatureUnit unit_{};
    Settings settings_;
    std::vector<std::string> names_;
    std::optional<ThermocoupleType> type_;
    std::optional<double> junction_;
    std::vector<CalibrationPoint> before_;
    std::vector<Point> measured_;
};

}  // namespace

void add_probe_calibrate(Verb const& probe, Context& context) {
    auto command = probe.verb(
        "calibrate", "correct a probe by ice water, boiling water or a reference; asks for what it needs",
        "  ingle probe calibrate stock\n"
        "  ingle probe calibrate stock --at ice --at boiling --pressure \"985 hPa\"\n"
        "  ingle probe calibrate smoke --at oven-spare\n"
        "Without a terminal nothing is asked. The second bath is waited for: move the probe when told, no "
        "key is needed.");
    auto const given = std::make_shared<Options>();
    command.required("PROBE", given->probe, "its name in the kitchen file");
    command.repeated(
        "--at", given->at,
        "ice, boiling, the name of another probe, or what a reference shows; twice for two points");
    command.option("--pressure", given->pressure,
                   "station pressure now, such as \"985 hPa\", for --at boiling");
    command.flag("--add", given->add, "keep the one point that there is, and add this one");
    command.flag("--accept-large", given->large, "store a correction of more than 2 K from a single point");
    command.flag("--clear", given->clear, "take the calibration away");
    command.option("--steady-for", given->steady_for, "how long the reading must not change");
    command.option("--give-up-after", given->patience, "give up after this long");
    command.flag("--json", given->json, "answer in JSON, and ask nothing");
    command.does([&context, given] { return Session(context, *given).run(); });
}

}  // namespace ingle::cli
