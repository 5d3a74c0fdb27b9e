// boil-over-risk, boiling: a liquid on its way to the boil that nobody asked for, and one that has arrived.
// Foam comes before the boil, and a pan goes on heating after it was turned down: hence minutes of lead.
// Linear extrapolation is always early near the boil, never late; a damped one does not cry for a pot that
// will level off below it.
#include <algorithm>
#include <cmath>

#include "daemon/conditioning/followed.hpp"
#include "daemon/conditioning/turned.hpp"
#include "daemon/food/boiling.hpp"
#include "daemon/watches/boiling/climb.hpp"
#include "daemon/watches/boiling/plateau.hpp"
#include "daemon/watches/boiling/rare_readings.hpp"
#include "daemon/watches/watch.hpp"
#include "daemon/watches/words.hpp"

namespace ingle {
namespace {

constexpr std::string_view risk_causes[] = {"boiling", "boiled-dry", "catching", "probe-displaced"};
constexpr std::string_view boiling_causes[] = {"boiled-dry"};
constexpr AlarmType types[] = {{.name = "boil-over-risk",
                                .priority = Priority::medium,
                                .off_delay = std::chrono::minutes(2),
                                .suppressed_by = risk_causes,
                                .over = "is no longer about to boil over"},
                               {.name = "boiling",
                                .priority = Priority::high,
                                .on_delay = std::chrono::seconds(30),
                                .off_delay = std::chrono::minutes(1),
                                .suppressed_by = boiling_causes,
                                .value_is_celsius = true,
                                .over = "no longer boils"}};

constexpr int past_every_s = 60;        // of what survives a restart
constexpr double margin_k = 1.0;        // the pot counts as boiling this far under its boiling point
constexpr double early_s = 7.5 * 60;    // the first word, in a pot that left its band or was held well
constexpr double just_s = 75;           // the first word in a pot that is only just brought to its band
constexpr double late_s = 2.5 * 60;     // the last: it becomes urgent
constexpr double wanted_k = 2.0;        // a band that reaches this near to the boil asks for it
constexpr double too_hot_k = 0.5;       // a band that begins so far above the boil is never reached
constexpr double unlikely_s = 15 * 60;  // further away than this it is no risk any more
constexpr int quarter_s = 15 * 60, five_minutes_s = 5 * 60;
constexpr double far_off_k = 6;  // no weather and no salt moves a boil so far
constexpr double coarse_s_per_k = 120;
constexpr double least_slope = 0.08 / 60;  // K/s; a slow approach is one too
constexpr double near_k = 8;               // under the boil: farther off a rise that ends is over
constexpr int calm_for_s = 4 * 60;         // a slow rise comes and goes with the probe
constexpr double another_rate = 0.3 / 60;  // K/s: what two trends of one medium may differ by
constexpr double sure_slope = 2.0 / 60;    // K/s, of the fast trend
constexpr double no_stirring_k = 4, climbs_k = 3;
constexpr double off_plateau_k = 4;      // below it, it does not boil any more
constexpr double steps_beyond = 1.2;     // of the instrument
constexpr int untold_s = 30;             // its on-delay
constexpr double astray_s = 15;          // the boil may seem farther off than the clock says, meanwhile,
constexpr double nearer = 1.2;           // but comes nearer by this for each second
constexpr double stood_k = 1.5;          // above where it stood for half an hour: it wavers there
constexpr double climbed_k = 2.5;        // in half an hour
constexpr double at_boil_k = 0.3;        // standing so near to it, it boils
constexpr double stopped_short_k = 2.5;  // a probe may read so much less

class Boiling final : public VesselWatch {
public:
    explicit Boiling(Settings const& settings)
        : words_(settings.units), height_known_(settings.altitude || settings.pressure) {}

    void step(VesselSituation const& now, WatchOutput& out) override {
        Finding risk, boils;
        risk.type = &types[0];
        boils.type = &types[1];
        if (recalled_at_) past_.skip(now.now - *recalled_at_);
        recalled_at_.reset();
        stepped_ = now.now;
        if (now.medium && now.medium->fresh) {
            followed_.take(*now.medium);
            if (readings_.take(*now.medium)) rose_at_.reset();
            past_.put(now.medium->level);
            // One step of a coarse instrument is no rate.
            Span const evidence = std::chrono::seconds(45) + from_seconds(coarse_s_per_k * now.medium->step);
            if (followed_.settled(now.now, evidence) ||
                (runs_up(*now.medium) && keeps_pace(past_, now.medium->step))) {
                judge(now, risk, boils, out);
            } else {  // what was raised before the probe was moved is not over yet
                risk.truth = at_risk_ ? Truth::unknown : Truth::absent;
                boils.truth = boiling_ ? Truth::unknown : Truth::absent;
            }
        } else {
            risk.truth = boils.truth = Truth::unknown;
        }
        out.boils_at = plateau_.level();
        out.findings.push_back(std::move(risk));
        out.findings.push_back(std::move(boils));
    }

    void remember(Memory& memory, std::string const& prefix) const override {
        plateau_.remember(memory, prefix);
        remember_fields(memory, prefix + "state", *this);
        memory.put(prefix + "at-risk", std::int64_t{at_risk_});
        memory.put(prefix + "boiling", std::int64_t{boiling_});
        if (rose_at_) memory.put(prefix + "rose", *rose_at_);
        if (held_since_) {
            memory.put(prefix + "held-since", *held_since_);
            memory.put(prefix + "band-since", band_since_);
        }
        if (!stepped_) return;
        memory.put(prefix + "past", past_.text(past_every_s));
        memory.put(prefix + "past-at", *stepped_);
    }
    void recall(Memory const& memory, std::string const& prefix) override {
        plateau_.recall(memory, prefix);
        at_risk_ = memory.integer(prefix + "at-risk").value_or(0) != 0;
        if (!recall_fields(memory, prefix + "state", *this)) risk_s_ = at_risk_ ? untold_s : 0;
        boiling_ = memory.integer(prefix + "boiling").value_or(0) != 0;
        rose_at_ = memory.instant(prefix + "rose");
        held_since_ = memory.instant(prefix + "held-since");
        band_since_ = memory.instant(prefix + "band-since").value_or(Instant{});
        auto const past = memory.text(prefix + "past");
        recalled_at_ = memory.instant(prefix + "past-at");
        if (!past || !recalled_at_ || !past_.read(*past)) recalled_at_.reset();
        stepped_ = recalled_at_;
    }

    template <class Visit>
    void fields(Visit& visit) {
        visit(followed_, asked_, type_asked_, flat_s_, stopped_s_, calm_s_, risk_s_, readings_);
    }

private:
    void judge(VesselSituation const& now, Finding& risk, Finding& boils, WatchOutput& out) {
        double const level = followed_.level(now.now);
        // A lid or a high flame moves the pot before a careful trend believes it: where the fast trend is
        // sure, it counts.
        auto const& fast = *now.medium;
        bool const sure = runs_up(fast) && on_new_ground(fast);
        double const slope = sure ? std::max(fast.slope, followed_.slope()) : followed_.slope();
        double const here = std::max(level, sure ? fast.level : level);
        bool const stood = plateau_.level().has_value();
        bool const rose_lately = rose_at_ && now.now - *rose_at_ < std::chrono::minutes(10);
        plateau_.step(past_, rose_lately,
                      {now.boiling_c, height_known_, in_band(now, level), readings_.rose(now.now)});
        ask_about_height(now, level, out);
        ask_about_type(now, level, out);
        double const boil = learnt(now.boiling_c);

        bool const wanted =
            now.band && now.band->high.celsius > boil - wanted_k && now.band->low.celsius < boil + too_hot_k;
        if (!stood && plateau_.level() && (wanted || !now.band)) say_that_it_boils(now, out);
        double const gap = boil - margin_k - here;
        double const eta = gap <= 0 ? 0 : slope > 0 ? gap / slope : 1e9;
        if (slope > fast_rise && readings_.rose(now.now)) rose_at_ = now.now;

        if (!boiling_ && !fast.doubtful && !wanted && now.band && readings_.stand() &&
            stands_at(boil, level, now.now))
            boiling_ = true;
        if (boiling_ && (level < boil - 3 || wanted || !now.band)) boiling_ = false;

        if (wanted) {
            at_risk_ = false;
        } else if (!at_risk_) {
            bool const on_plateau = plateau_.level() && here > *plateau_.level() - off_plateau_k;
            bool const boils_already = on_plateau || here > boil + 0.5;
            bool const arrived = gap <= 0;  // that is the boil, not a way to it
            at_risk_ = !fast.doubtful && !boils_already && !arrived && slope > least_slope &&
                       eta < lead(now, here) && likely(now, boil, sure) &&
                       (eta < 45 || (sure && left(now, here)) || !coming_back(here, boil)) &&
                       (eta < late_s || !stood_here(here));
        } else {
            // It does not come to that, or it boils, which is not a risk any more.
            bool const calm = (slope < 0.5 * least_slope && level < boil - 2) || eta > unlikely_s;
            calm_s_ = calm ? calm_s_ + 1 : 0;
            bool const there = boiling_ || (plateau_.level() && !now.band);
            if (there || here > boil + 4 || (calm && gap > near_k) ||
                calm_s_ > (climbed_for_long(here) ? 3 : 1) * calm_for_s)  // so slow a climb wavers
                at_risk_ = false;
        }
        // Before it is told it must go on as it began: a pot that will come to rest slows down.
        risk_s_ = at_risk_ ? risk_s_ + 1 : 0;
        if (risk_s_ > 0 && risk_s_ <= untold_s && eta > early_s + astray_s - nearer * risk_s_)
            at_risk_ = false;
        bool const falls = has_turned(fast, 1);
        bool const turned = gap > stopped_short_k && (eta > unlikely_s || falls);
        bool const sinks = fast.settled && fast.slope < -least_slope;
        if (risk_s_ <= untold_s + 1 && (turned || sinks)) at_risk_ = false;  // not told as what it is not
        if (!at_risk_) calm_s_ = 0;
        // Told are the level and the rate that stand in the vessel's line, and a time that goes with them.
        double const shown = fast.settled || falls ? fast.slope : slope;
        bool const another = shown > least_slope && std::abs(shown - slope) > another_rate + 0.3 * slope;
        double const boils_in = another ? std::max(0.0, boil - margin_k - fast.level) / shown : eta;
        if (at_risk_) {
            risk.truth = Truth::present;
            risk.value = here;
            risk.on_delay = eta < late_s ? std::chrono::seconds(2) : std::chrono::seconds(untold_s);
            if (eta < late_s || here > boil - 3) risk.priority = Priority::high;
            risk.text =
                now.vessel->name + " is at " + words_.at(fast.level) + ", " + words_.moving(shown) + ", and ";
            // It waits to be over: what turned back, or stands well below, needs no order.
            risk.text += turned                      ? std::string("is not on its way to the boil now")
                         : eta > unlikely_s || falls ? std::string("is close to the boil")
                         : gap <= 0                  ? std::string("is about to boil")
                                                     : "boils in " + Words::about(std::max(boils_in, 10.0));
            risk.text += " (here at " + words_.at(boil) + ").";
            if (!turned) {
                risk.action = Action::lower_heat;
                risk.order = out.advice = "Turn the heat well down, or take the lid off.";
            }
        }
        if ((at_risk_ && eta <= unlikely_s) || (!wanted && slope > least_slope && eta < 1800 && now.band)) {
            Forecast forecast;
            forecast.at = now.now;
            forecast.what = "boiling";
            forecast.subject = {SubjectKind::vessel, now.number};
            forecast.eta_s = boils_in;
            forecast.direction = 1;
            forecast.low_s = 0.7 * boils_in;
            forecast.high_s = 1.8 * boils_in + 30;
            forecast.why = "straight-line estimate; may be later";
            out.forecasts.push_back(std::move(forecast));
        }
        if (boiling_) {
            boils.truth = Truth::present;
            boils.value = level;
            boils.action = Action::lower_heat;
            boils.text = now.vessel->name + boils_words(boil, now.boiling_c) + words_.at(level) +
                         " though it should be held at " +
                         words_.band(now.band->low.celsius, now.band->high.celsius) + ".";
            if (now.band->low.celsius > boil) {
                boils.action = Action::none;
                boils.text += " It gets no hotter than that.";
            } else {
                boils.order = "Turn the heat well down.";
            }
        }
    }

    static bool runs_up(Signal const& fast) {
        return fast.settled && fast.slope > sure_slope + 4 * std::sqrt(fast.slope_variance);
    }
    // Higher than what stirring throws it about by. What fell farther than that has begun anew.
    bool on_new_ground(Signal const& fast) const {
        auto const before = past_.highest(120, 20), lowest = past_.lowest(120, 0);
        if (before && lowest && *before - *lowest > no_stirring_k && fast.level > *lowest + climbs_k)
            return true;
        return !before || fast.level > *before + steps_beyond * fast.step;
    }

    // How long before the boil the first word comes. Below the top of its band a pot may rise because it is
    // being brought there; only what happens after it was held for a while, or fast, is news.
    double lead(VesselSituation const& now, double level) {
        if (!now.band) return late_s;
        if (level > now.band->high.celsius) return early_s;
        if (now.phase != BandPhase::held) return just_s;
        if (!held_since_ || now.band_since != band_since_) {
            held_since_ = now.now;
            band_since_ = now.band_since;
        }
        if (now.now - *held_since_ < std::chrono::minutes(3)) return just_s;
        bool const upper_half = level > 0.5 * (now.band->low.celsius + now.band->high.celsius);
        return upper_half ? early_s : late_s;
    }

    static bool left(VesselSituation const& now, double here) {
        return now.band && here > now.band->high.celsius;
    }

    // After cold liquid went in a pot climbs fast, back to where it was: no risk until it is past that.
    bool coming_back(double here, double boil) const {
        auto const before = past_.highest(1800, 300);
        return before && *before > here - 0.5 && *before < boil - 3.5;
    }

    bool climbed_for_long(double here) const {
        auto const before = past_.mean(1790, 1490);
        return before && here - *before > climbed_k;
    }

    bool stood_here(double here) const {
        auto const before = past_.mean(1800, 300);
        return before && here - *before < stood_k;
    }

    // The equilibrium test: a pot that levels off under the boil is no risk. A sure fast rise needs none.
    bool likely(VesselSituation const& now, double boil, bool sure) const {
        if (sure) return true;
        if (auto const rest = comes_to_rest(past_); rest && *rest < boil - margin_k - 1.0) return false;
        return chance_beyond(followed_.prospect(now.now), boil - margin_k - 1.0, Side::above, early_s + 120) >
               0.5;
    }

    // Where it really boils: the plateau. What a known height and the plateau differ by is the weather's and
    // the probe's.
    double learnt(double expected) const {
        auto const plateau = plateau_.level();
        if (!plateau) return expected;
        return height_known_ ? std::clamp(*plateau, expected - 1.5, expected + 3.0) : *plateau;
    }

    static bool in_band(VesselSituation const& now, double level) {
        return now.band && level > now.band->low.celsius && level < now.band->high.celsius;
    }

    // On the plateau, and not still on the way to it, however slowly.
    bool stands_at(double boil, double level, Instant now) const {
        auto const newest = past_.mean(20, 0), minute_ago = past_.mean(80, 60);
        bool const flat = newest && minute_ago && std::abs(*newest - *minute_ago) < 0.15;
        bool const stopped = rose_at_ && now - *rose_at_ < std::chrono::minutes(4) &&
                             level > boil - stopped_short_k && level < boil + Plateau::near_k &&
                             std::abs(followed_.slope()) < 0.3 / 60;
        bool const there =
            plateau_.stands() && ((level > boil - at_boil_k && level < boil + Plateau::near_k) ||
                                  (plateau_.level() && level > *plateau_.level() - margin_k));
        return flat && (stopped || there);
    }

    // Far from where liquids boil here, or where nothing says where that is, it is what it looks like.
    static char const* boils_words(double at, double expected) {
        return std::abs(at - expected) < Plateau::near_k ? " boils at "
                                                         : " stands still as if it boiled, at ";
    }

    void say_that_it_boils(VesselSituation const& now, WatchOutput& out) const {
        double const at = *plateau_.level();
        out.events.push_back({now.now,
                              "boils",
                              {SubjectKind::vessel, now.number},
                              now.vessel->name + boils_words(at, now.boiling_c) + words_.at(at) + ".",
                              {{"boils_c", at}}});
    }

    // F12: no height was given and the pot stands still under heat well below 100 degC.
    void ask_about_height(VesselSituation const& now, double level, WatchOutput& out) {
        if (height_known_ || asked_) return;
        bool const flat = std::abs(followed_.slope()) < 0.25 / 60 && level > 85 && level < now.boiling_c - 2;
        flat_s_ = flat ? flat_s_ + 1 : 0;
        if (flat_s_ < quarter_s || !(rose_at_ || plateau_.level())) return;
        auto const then = past_.mean(quarter_s, quarter_s - 60);
        if (!then || std::abs(level - *then) > 0.4) return;
        asked_ = true;
        auto const height = altitude_of_boiling_point(Temperature{level});
        Event event{now.now, "note", {SubjectKind::vessel, now.number}, "", {}};
        event.text = now.vessel->name + " has stood at " + words_.at(level) +
                     " for a quarter of an hour. Is this boiling?";
        if (height) {
            event.text += " That fits a height of about " +
                          std::to_string(static_cast<int>(std::round(height->metres / 100)) * 100) +
                          " m: give the altitude in the kitchen file.";
        }
        out.events.push_back(std::move(event));
    }

    // A6: it rose under heat and stopped where nothing boils here, and where nobody holds it.
    void ask_about_type(VesselSituation const& now, double level, WatchOutput& out) {
        bool const flat = std::abs(followed_.slope()) < 0.1 / 60 && level > 60;
        stopped_s_ = flat ? stopped_s_ + 1 : 0;
        if (type_asked_ || stopped_s_ < five_minutes_s || !rose_at_) return;
        if (now.now - *rose_at_ > std::chrono::minutes(12)) return;
        if (std::abs(level - now.boiling_c) < far_off_k) return;
        bool const perhaps_height = !height_known_ && level > 85 && level < now.boiling_c;
        bool const held = now.band && level > now.band->low.celsius && level < now.band->high.celsius;
        if (perhaps_height || (held && level < now.boiling_c)) return;
        type_asked_ = true;
        Event event{now.now, "note", {SubjectKind::vessel, now.number}, "", {{"plateau_c", level}}};
        event.text = now.vessel->name + " stopped rising and stands at " + words_.at(level) +
                     ". If it boils, it should read about " + words_.at(now.boiling_c) +
                     " here: then look at the probe's type in the kitchen file, and at its wires.";
        out.events.push_back(std::move(event));
    }

    Words words_;
    bool height_known_;
    Followed followed_{1e-8};
    Plateau plateau_;
    Past<1810> past_;
    std::optional<Instant> rose_at_, held_since_, stepped_;
    std::optional<Instant> recalled_at_;  // the past was read back, and ends there
    Instant band_since_{};
    bool at_risk_ = false, boiling_ = false, asked_ = false;
    bool type_asked_ = false;
    int flat_s_ = 0, stopped_s_ = 0, calm_s_ = 0, risk_s_ = 0;
    RareReadings readings_;
};

std::unique_ptr<VesselWatch> make(Settings const& settings, int number) {
    auto const& vessel = settings.vessels[static_cast<std::size_t>(number)];
    bool const boils = holds_liquid(vessel.kind) && vessel.liquid == Liquid::water;
    if (!boils || vessel.medium < 0) return nullptr;
    return std::make_unique<Boiling>(settings);
}

}  // namespace

extern WatchInfo const boiling_watch;
WatchInfo const boiling_watch{.name = "boiling", .alarms = types, .for_vessel = &make};

}  // namespace ingle
