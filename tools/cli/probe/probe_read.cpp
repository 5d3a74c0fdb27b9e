// ingle probe read: one probe now, from the raw word to the value that is judged, in words.
#include <array>
#include <memory>
#include <ostream>

#include "config/did_you_mean.hpp"
#include "daemon/conditioning/calibrate.hpp"
#include "daemon/wiring/kitchen_file.hpp"
#include "daemon/wiring/wiring.hpp"
#include "drivers/thermocouple/chip_words.hpp"
#include "tools/cli/live/now_text.hpp"
#include "tools/cli/past/book.hpp"
#include "tools/cli/probe/probe.hpp"
#include "tools/cli/program/files.hpp"
#include "tools/cli/time/local_time.hpp"

namespace ingle::cli {
namespace {

constexpr auto longest_wait = std::chrono::seconds(5);  // for a first reading of a driver of our own

// The kitchen's unit first.
std::string both(double celsius, TemperatureUnit first) {
    auto const other =
        first == TemperatureUnit::celsius ? TemperatureUnit::fahrenheit : TemperatureUnit::celsius;
    return temperature_text(celsius, first) + " = " + temperature_text(celsius, other);
}

std::string word_text(std::string const& driver, std::uint32_t word, TemperatureUnit unit) {
    int const digits = driver == "max6675"                    ? 4
                       : driver == "max31856"                 ? 6
                       : driver == "modbus" && word < 0x10000 ? 4
                                                              : 8;
    std::string text = "0x";
    for (int digit = digits - 1; digit >= 0; --digit) text += "0123456789ABCDEF"[(word >> (4 * digit)) & 15];
    if (driver == "max31855")
        if (auto const straight = decode_max31855(word, std::nullopt, Instant{}); straight.ok())
            text += ", " + both(straight.celsius(), unit) + " by the chip's own straight line";
    return text;
}

// "reads 0.42 degC where it is 0.00 degC, ..., since 2026-11-20".
std::string calibration_text(Context const& context, std::string const& probe,
                             std::vector<CalibrationPoint> const& points, TemperatureUnit unit) {
    std::string text;
    for (auto const& point : points)
        text += (text.empty() ? "reads " : ", reads ") + show(point.reads, unit, 2) + " where it is " +
                show(point.is, unit, 2);
    try {
        Book book(context, "");
        for (auto const& row : book.reader().probes())
            if (row.name == probe && !row.calibrations.empty())
                return text + ", since " + time_text(row.calibrations.back().since.wall, true, false);
    } catch (Failure const&) {  // a kitchen without a logbook
    }
    return text;
}

void print_driver_part(std::ostream& out, std::string const& driver, std::optional<double> celsius,
                       std::string const& reason, std::optional<double> junction, std::optional<double> word,
                       TemperatureUnit unit) {
    out << "  the driver (" << driver << "): " << (celsius ? both(*celsius, unit) : "no value: " + reason)
        << "\n";
    if (word) out << "  raw word: " << word_text(driver, static_cast<std::uint32_t>(*word), unit) << "\n";
    if (junction) out << "  cold junction: " << both(*junction, unit) << "\n";
}

int read_from_daemon(Context& context, std::string const& name, bool json) {
    auto const now = Client(context.socket()).get("/api/now");
    auto const& probe = find_probe(now, name);
    auto const celsius = number_in(probe, "celsius");
    if (json) {
        context.out << probe.dump(2, ' ', false, Json::error_handler_t::replace) << "\n";
        return celsius ? done : no;
    }
    auto const unit = unit_of(now);
    if (celsius) {
        context.out << name << ": " << both(*celsius, unit) << ", " << text_in(probe, "quality") << ", "
                    << age_text(number_in(probe, "age_s").value_or(0)) << "\n";
    } else {
        context.out << name << ": no value: " << text_in(probe, "reason") << "\n";
        if (auto const last = probe.value("last", Json()); last.is_object())
            context.out << "  the last good one was " << both(number_in(last, "celsius").value_or(0), unit)
                        << ", " << age_text(number_in(last, "age_s").value_or(0)) << "\n";
    }
    if (auto const raw = probe.value("raw", Json()); raw.is_object())
        print_driver_part(context.out, text_in(probe, "driver"), number_in(raw, "celsius"),
                          text_in(raw, "reason"), number_in(raw, "cold_junction_c"), number_in(raw, "word"),
                          unit);
    if (auto const trouble = text_in(probe, "trouble"); !trouble.empty())
        context.out << "  the driver does not run: " << trouble << "\n";
    if (auto const points = points_of(probe); !points.empty())
        context.out << "  calibrated: " << calibration_text(context, name, points, unit) << "\n";
    if (auto const noise = number_in(probe, "noise_k"))
        context.out << "  its own noise: " << show(TemperatureDifference{*noise}, unit, 2) << "\n";
    context.out << "  since the daemon started: " << probe.value("readings", 0) << " readings, "
                << probe.value("faults", 0) << " faults\n";
    return celsius ? done : no;
}

// A kitchen's one driver, run here for its first word: before there is a daemon, to see whether a wire is
// right.
class Listener final : public ReadingSink {
public:
    explicit Listener(int probe) : wanted_(probe) {}

    // Until there is a value, a fault that waiting does not mend, or a switch; or for `longest_wait`.
    void hear(DriverInfo const& info, std::vector<ProbeWiring> const& probes) {
        boost::asio::io_context io;
        auto const log = [this](Severity, std::string text) { told.push_back(std::move(text)); };
        auto const driver = info.make({io, *this, log}, probes);
        driver->start();
        auto const end = std::chrono::steady_clock::now() + longest_wait;
        while (!done_ && !closed && !io.stopped() && std::chrono::steady_clock::now() < end)
            io.run_one_for(std::chrono::milliseconds(50));
        driver->stop();
    }

    void on_reading(int probe, Reading reading) override {
        if (probe != wanted_) return;
        done_ = reading.ok() || (reading.fault().kind != FaultKind::power_on_value &&
                                 reading.fault().kind != FaultKind::no_reply);
        newest = std::move(reading);
    }
    void on_driver_event(int, std::string_view, std::string text) override {
        told.push_back(std::move(text));
    }
    void on_switch(int probe, Instant, bool is_closed) override {
        if (probe == wanted_) closed = is_closed;
    }

    std::optional<Reading> newest;
    std::optional<bool> closed;
    std::vector<std::string> told;

private:
    int wanted_;
    bool done_ = false;
};

int tell_alone(Context& context, ProbeSettings const& probe, Listener const& heard, TemperatureUnit unit,
               bool json) {
    std::optional<double> celsius, junction, word;
    std::string why = heard.closed ? "a switch has no temperature" : "nothing came within 5 s";
    if (heard.newest) {
        if (heard.newest->ok())
            celsius = heard.newest->celsius();
        else
            why = heard.newest->fault().reason;
        junction = heard.newest->cold_junction;
        if (heard.newest->word) word = *heard.newest->word;
    }
    if (json) {
        auto const or_null = [](std::optional<double> value) { return value ? Json(*value) : Json(); };
        Json answer{{"name", probe.name}, {"driver", probe.driver}, {"celsius", or_null(celsius)}};
        answer["reason"] = celsius ? Json() : Json(why);
        answer["cold_junction_c"] = or_null(junction);
        answer["word"] = heard.newest && heard.newest->word ? Json(*heard.newest->word) : Json();
        context.out << answer.dump(2, ' ', false, Json::error_handler_t::replace) << "\n";
        return celsius ? done : no;
    }
    if (heard.closed)
        context.out << probe.name << ": the switch is " << (*heard.closed ? "closed" : "open") << "\n";
    else
        context.out << probe.name << ": " << (celsius ? both(*celsius, unit) : "no value: " + why) << "\n";
    if (heard.newest) print_driver_part(context.out, probe.driver, celsius, why, junction, word, unit);
    if (celsius && !probe.calibration.empty())
        context.out << "  calibrated by the kitchen file: "
                    << both(calibration_from(probe.calibration).apply(*celsius), unit) << "\n";
    for (auto const& text : heard.told) context.out << "  " << text << "\n";
    return celsius || heard.closed ? done : no;
}

// A second reader of a port takes bytes away from the first.
bool the_daemon_reads(Context& context, ProbeSettings const& probe) {
    try {
        auto const now = Client(context.socket()).get("/api/now");
        return text_in(find_probe(now, probe.name), "driver") == probe.driver;
    } catch (Failure const&) {
        return false;
    }
}

int read_alone(Context& context, std::string const& name, std::string const& kitchen, bool json) {
    auto const loaded = load_kitchen_and_plans(kitchen);
    auto wrong = loaded.errors;
    for (auto& error : wiring_problems(loaded.settings)) wrong.push_back(std::move(error));
    if (!wrong.empty()) throw Failure(wrong.front().text(), wrong_usage);
    for (auto& group : group_probes(loaded.settings))
        for (auto const& wiring : group.probes) {
            if (wiring.name != name) continue;
            auto const& probe = loaded.settings.probes[static_cast<std::size_t>(wiring.number)];
            if (the_daemon_reads(context, probe)) {
                if (!json) context.out << "The running daemon reads " << name << "; this is what it has:\n";
                return read_from_daemon(context, name, json);
            }
            Listener heard(wiring.number);
            try {
                heard.hear(*group.driver, group.probes);
            } catch (std::runtime_error const& error) {
                throw Failure(error.what(), wrong_usage);
            }
            return tell_alone(context, probe, heard, loaded.settings.units, json);
        }
    throw Failure("the kitchen file has no probe \"" + name + "\"" +
                      did_you_mean(name, names_of(loaded.settings.probes)),
                  wrong_usage);
}

}  // namespace

void add_probe_read(Verb const& probe, Context& context) {
    auto command = probe.verb("read", "one probe now: raw word, cold junction, value, quality",
                              "  ingle probe read stock\n"
                              "  ingle probe read stock --kitchen kitchen.toml   # without a daemon");
    auto const name = std::make_shared<std::string>();
    auto const kitchen = std::make_shared<std::string>();
    auto const json = std::make_shared<bool>(false);
    command.required("PROBE", *name, "its name in the kitchen file");
    command.option("--kitchen", *kitchen, "read it here, as this file wires it, where no daemon reads it");
    command.flag("--json", *json, "answer in JSON");
    command.does([&context, name, kitchen, json] {
        return kitchen->empty() ? read_from_daemon(context, *name, *json)
                                : read_alone(context, *name, *kitchen, *json);
    });
}

}  // namespace ingle::cli
