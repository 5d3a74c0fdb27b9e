// One scenario: a kitchen, what its probes said second by second, what the cook did, and the truth about it.
#pragma once

#include <functional>
#include <optional>
#include <string>
#include <string_view>
#include <utility>
#include <vector>

#include "config/settings.hpp"
#include "daemon/model/command.hpp"
#include "drivers/reading/reading.hpp"
#include "tests/scenarios/plant.hpp"

namespace ingle::scenarios {

struct Hazard {
    std::string what;                  // for the table
    std::vector<std::string> told_by;  // any of these alarms tells it
    double onset_s = 0;                // when it began (nothing could be told before)
    double limit_s = 0;                // told later than this is late
    std::optional<double> exit_s;      // when the band was left: the lead of leaving-band counts from here
    std::optional<double> boil_s;      // when it boiled: boil-over-risk must come 60 s before
    std::vector<std::string> warned_by{};  // one of these must come before `exit_s`
};

struct Door {
    double opened_s = 0, closed_s = 0;
    bool counts = true;  // false: slow enough to be missed; found, it is not invented
};

struct Happening {  // an event that must be told, and nowhere else
    std::string event;
    double from_s = 0, until_s = 0;
};

struct Allowed {  // a loud alarm that says what was truly so; told at another time it is false
    std::string alarm;
    double from_s = 0, until_s = 0;
};

struct Truth {
    std::vector<Hazard> hazards;
    std::vector<Door> doors;
    std::vector<Happening> happenings;
    std::optional<double> corrected_s;  // somebody turned the heat: from here leaving-band is nagging
    double quiet_until_s = 0;           // nothing is wrong before this
    std::vector<std::string> expected;  // alarms that are no fault of the watch after that (consequences)
    std::vector<Allowed> allowed;       // in quiet hours
    std::vector<Happening> may_tell;    // events that are true, and not asked for
};

struct Scenario {
    std::string kind;
    std::uint64_t seed = 0;
    Settings settings;
    std::vector<std::vector<std::optional<Reading>>> readings;  // [probe][second]; empty = nothing came
    std::vector<std::pair<double, Command>> commands;
    std::vector<double> true_c;  // of the first probe's medium
    // For a detector that knows them: sd of the probe's noise, of its wander (90 s), and of the medium's own
    // (by the flame's flicker); K.
    double noise = 0, wander = 0, flicker = 0, rounding = 0.25;
    Truth truth;
    int length_s() const { return static_cast<int>(readings.at(0).size()); }
};

enum class Family { vessels, hands };

struct Kind {
    std::string_view name;
    std::string_view truth;  // one sentence for the reader
    Scenario (*make)(std::uint64_t seed);
    Family family = Family::vessels;
    bool tuned = true;  // false: no threshold was ever chosen on it
};

std::vector<Kind> const& kinds();

// How a probe shows a true temperature: noise, a slow wander, 0.25 K steps.
class Probe {
public:
    Probe(Chance& chance, double noise, double wander, double tau_s = 90)
        : chance_(chance), noise_(noise), wander_(wander, tau_s) {}
    Reading at(int second, double true_c);
    double noise() const { return noise_; }
    double wander() const { return wander_.sd(); }

private:
    Chance& chance_;
    double noise_;
    Wander wander_;
};

// A kitchen of one vessel with one probe, band in degC.
Settings one_vessel(VesselKind kind, std::optional<std::pair<double, double>> band);
inline Instant second(double s) {
    return Instant(from_seconds(s));
}

std::vector<Kind> pot_kinds();
std::vector<Kind> smoker_kinds();
std::vector<Kind> cold_and_probe_kinds();
std::vector<Kind> hands_on_probes_kinds();
std::vector<Kind> hands_at_work_kinds();
std::vector<Kind> hands_held_out_kinds();
std::vector<Kind> hands_nearby_kinds();
std::vector<Kind> slow_kinds();
std::vector<Kind> fast_kinds();
std::vector<Kind> supply_kinds();

}  // namespace ingle::scenarios
