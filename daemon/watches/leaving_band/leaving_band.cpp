// leaving-band: inside the band, but on the way out of it. Says when, which way to turn and about how much.
// A damped trend decides, with its own variance: a value that only trembles is not leaving, and a correction
// that already works bends the trend before the cook is told a second time.
#include <algorithm>
#include <cmath>

#include "daemon/conditioning/followed.hpp"
#include "daemon/conditioning/turned.hpp"
#include "daemon/watches/leaving_band/advice.hpp"
#include "daemon/watches/leaving_band/fall.hpp"
#include "daemon/watches/leaving_band/response.hpp"
#include "daemon/watches/leaving_band/usual_cycle.hpp"
#include "daemon/watches/watch.hpp"
#include "daemon/watches/words.hpp"

namespace ingle {
namespace {

constexpr std::string_view causes[] = {"above-band", "below-band", "boil-over-risk", "boiling",
                                       "boiled-dry", "heat-lost",  "probe-displaced"};
constexpr AlarmType types[] = {{.name = "leaving-band",
                                .priority = Priority::low,
                                .off_delay = std::chrono::minutes(1),
                                .suppressed_by = causes,
                                .over = "is no longer about to leave its band"}};

constexpr double raise_at = 0.8, clear_below = 0.4;
constexpr Span drift_ahead = std::chrono::hours(1);  // how far ahead a drifting swing is told

// A band that is left within two minutes, almost surely, is told on less evidence: later would be too late.
constexpr double urgent_horizon_s = 120, urgent_chance = 0.95;
constexpr Span urgent_evidence{25'000}, usual_evidence{60'000}, urgent_on_delay{10'000};
constexpr Span corrected_on_delay = std::chrono::minutes(2);

// K/s: no liquid cools so fast by its heat alone. Something cold is at the tip, or the tip is elsewhere.
constexpr double no_cooling = 4.0 / 60;

constexpr double another_rate = 0.3 / 60;  // K/s: what two trends of one medium may differ by

// What a kind of vessel is like, until this one has shown what it is like. Our own judgement.
struct Manner {
    Span look_ahead, on_delay;
    // How fast its slope wanders, K²/s³: small enough to see ten minutes ahead, large enough to follow a
    // turned knob within a minute or two (time constant (noise²/walk)^1/4).
    double slope_walk;
};
Manner manner_of(VesselKind kind) {
    using std::chrono::minutes;
    using std::chrono::seconds;
    switch (kind) {
        case VesselKind::pot:
        case VesselKind::bath:
            return {minutes(10), seconds(30), 1e-9};
        case VesselKind::smoker:
        case VesselKind::hot_box:
            return {minutes(20), seconds(150), 3e-9};
        case VesselKind::oven:
            return {minutes(10), minutes(4), 3e-9};
        case VesselKind::fridge:
            return {minutes(30), minutes(12), 1e-10};
        case VesselKind::room:
            return {minutes(30), minutes(10), 1e-10};
    }
    return {minutes(10), seconds(60), 1e-9};
}

class LeavingBand final : public VesselWatch {
public:
    LeavingBand(Settings const& settings, int number)
        : words_(settings.units),
          kind_(settings.vessels[static_cast<std::size_t>(number)].kind),
          manner_(manner_of(kind_)),
          followed_(manner_.slope_walk),
          learner_(kind_),
          usual_(kind_) {
        auto const& vessel = settings.vessels[static_cast<std::size_t>(number)];
        fries_ = holds_liquid(kind_) && vessel.liquid == Liquid::fat;
        if (vessel.look_ahead) manner_.look_ahead = from_seconds(vessel.look_ahead->seconds);
    }

    void step(VesselSituation const& now, WatchOutput& out) override {
        Finding finding;
        finding.type = &types[0];
        finding.on_delay = manner_.on_delay;
        if (now.medium) {
            followed_.take(*now.medium);
            if (fries_ && now.medium->fresh) fall_.step(now.now, now.medium->level);
            // The way back from cold liquid or an open door says nothing of what comes after it.
            if (silenced_ && !now.band_silenced) followed_.restart();
            silenced_ = now.band_silenced;
            learn(now);
            if (learner_.learnt().any()) out.response = learner_.learnt();
        }
        if (recalled_) band_ = now.band;  // a restart is no new band: what was told goes on
        recalled_ = false;
        if (now.band != band_ || now.phase != BandPhase::held) side_ = 0;
        band_ = now.band;
        if (now.band && now.phase == BandPhase::held && now.medium) {
            finding.truth = now.medium->fresh && followed_.settled(now.now, urgent_evidence)
                                ? judge(now, finding, out)
                                : Truth::unknown;
        }
        out.findings.push_back(std::move(finding));
    }

    void remember(Memory& memory, std::string const& prefix) const override {
        learner_.remember(memory, prefix);
        remember_fields(memory, prefix + "trend", followed_);
        remember_fields(memory, prefix + "fall", fall_);
        remember_fields(memory, prefix + "usual", usual_);
        memory.put(prefix + "silenced", std::int64_t{silenced_});
        memory.put(prefix + "side", std::int64_t{side_});
        if (corrected_at_) memory.put(prefix + "corrected", *corrected_at_);
    }
    void recall(Memory const& memory, std::string const& prefix) override {
        learner_.recall(memory, prefix);
        recall_fields(memory, prefix + "trend", followed_);
        recall_fields(memory, prefix + "fall", fall_);
        recall_fields(memory, prefix + "usual", usual_);
        silenced_ = memory.integer(prefix + "silenced").value_or(0) != 0;
        side_ =
            static_cast<int>(std::clamp<std::int64_t>(memory.integer(prefix + "side").value_or(0), -1, 1));
        corrected_at_ = memory.instant(prefix + "corrected");
        recalled_ = true;
    }

private:
    void learn(VesselSituation const& now) {
        if (is_cold(kind_)) return;  // nobody turns a compressor
        if (now.doors != doors_ && now.recovery_s > 0) learner_.door(now.recovery_s);
        doors_ = now.doors;
        if (!now.medium->fresh || !followed_.settled(now.now, usual_evidence) || now.band_silenced ||
            now.medium->cycle) {
            learner_.interrupt();
            return;
        }
        if (++learnt_s_ % ResponseLearner::every_s != 0) return;
        auto const p = followed_.prospect(now.now);
        learner_.step(now.now, p.level, followed_.estimate(), std::sqrt(p.slope_variance));
    }

    Truth judge(VesselSituation const& now, Finding& finding, WatchOutput& out) {
        double const low = now.band->low.celsius, high = now.band->high.celsius;
        auto p = followed_.prospect(now.now);
        // How long a slope lasts is this vessel's own, once it has shown it.
        if (auto const constant = learner_.learnt().time_constant_s)
            p.kept_per_minute = std::clamp(std::exp(-60 / *constant), 0.9, 0.97);
        // Outside is the band watch's to say; what was told before it stays until the way back.
        if (int const left = p.level > high ? 1 : p.level < low ? -1 : 0; left != 0) {
            if (side_ != left) side_ = 0;
            finding.meanwhile = now.vessel->name + " has left its band (" + words_.band(low, high) +
                                ") at the " + (left > 0 ? "top." : "bottom.");
            return side_ != 0 ? Truth::unknown : Truth::absent;
        }
        double const horizon = seconds(manner_.look_ahead);
        usual_.step(now.now, now.medium->cycle, p.level, p.slope, now.medium->slope, now.medium->celsius);
        if (usual_.beyond() != 0 && !now.band_silenced) {
            bool const up = usual_.beyond() > 0;
            double const chance = chance_beyond(p, up ? high : low, up ? Side::above : Side::below, horizon);
            if (chance > 0.5 || (side_ == usual_.beyond() && chance > clear_below)) {
                side_ = usual_.beyond();
                finding.on_delay = usual_.stands_open() ? Span(0) : urgent_on_delay;
                return tell(now, p, finding, out);
            }
        }
        double const one_way = usual_.one_way();
        double const left = one_way > 0 ? high - p.level : p.level - low;
        if (one_way != 0 && left < std::abs(one_way) * seconds(drift_ahead)) {
            side_ = one_way > 0 ? 1 : -1;
            return tell(now, p, finding, out);
        }
        if (auto const& cycle = now.medium->cycle; cycle && cycle->low > low && cycle->high < high) {
            side_ = 0;  // a thermostat swings inside the band
            // And drifts toward its limit with all of its swing.
            double const drift = usual_.drift();
            double const room = drift > 0 ? high - cycle->high : cycle->low - low;
            if (drift == 0 || room > std::abs(drift) * seconds(drift_ahead)) return Truth::absent;
            side_ = drift > 0 ? 1 : -1;
            finding.value = p.level;
            finding.variant = side_;
            finding.text =
                now.vessel->name + " swings between " + words_.at(cycle->low) + " and " +
                words_.at(cycle->high) + ", and its swing has " + (drift > 0 ? "risen" : "fallen") + " by " +
                words_.by(drift * 3600) + "/h: it leaves its band (" + words_.band(low, high) + ") at the " +
                (drift > 0 ? "top" : "bottom") + " in " + Words::about(room / std::abs(drift)) + ".";
            return Truth::present;
        }
        double const up = chance(p, high, Side::above, horizon), down = chance(p, low, Side::below, horizon);
        int const side = up >= down ? 1 : -1;
        double const chance = std::max(up, down);
        if (side_ != 0 && (side != side_ || chance < clear_below)) side_ = 0;
        double const gap = side > 0 ? high - p.level : p.level - low;
        if (learner_.working(p.slope, std::sqrt(p.slope_variance), gap, side > 0)) {
            if (side_ != 0) corrected_at_ = now.now;
            side_ = 0;  // somebody has turned already, and it helps
            return Truth::absent;
        }
        // After that the pot wavers on its way to the new balance.
        if (corrected_at_ && now.now - *corrected_at_ < from_seconds(learner_.time_constant()))
            finding.on_delay = std::max(manner_.on_delay, corrected_on_delay);
        if (side_ == 0 && chance > raise_at && !now.medium->doubtful && !now.band_silenced) side_ = side;
        if (chance < clear_below) return Truth::absent;
        bool const urgent = chance_beyond(p, side > 0 ? high : low, side > 0 ? Side::above : Side::below,
                                          urgent_horizon_s) > urgent_chance;
        if (!urgent && !followed_.settled(now.now, usual_evidence)) return Truth::unknown;
        if (!urgent && side > 0 && fall_.comes_back(p.level, high)) {
            side_ = 0;  // after cold food went in, to where it stood
            return Truth::absent;
        }
        // A fridge's air does that at each opening of its door.
        if (urgent && kind_ != VesselKind::fridge) finding.on_delay = urgent_on_delay;

        return tell(now, p, finding, out, side);
    }

    // What is told has the level and the rate that stand in the vessel's line. Where that rate is another one
    // than this watch's own, slower one, when it crosses is told by it, too.
    static Prospect as_shown(Prospect const& own, Signal const& medium, Instant now) {
        if (!medium.settled) return own;
        auto p = own;
        if (std::abs(medium.slope - own.slope) > another_rate + 0.3 * std::abs(own.slope)) {
            p = prospect_of(medium, now);
            p.kept_per_minute = own.kept_per_minute;
        }
        p.level = medium.level;
        p.slope = medium.slope;
        return p;
    }

    static Forecast forecast(VesselSituation const& now, CrossingTime const& when, int side, double most_s) {
        Forecast forecast;
        forecast.at = now.now;
        forecast.what = "leaving-band";
        forecast.subject = {SubjectKind::vessel, now.number};
        forecast.eta_s = when.eta_s;
        forecast.direction = side;
        if (when.eta_s) {
            forecast.low_s = when.low_s;
            forecast.high_s = when.high_s.value_or(most_s);
        } else {
            forecast.why = "it may not get there: the trend is too weak to name a time";
        }
        return forecast;
    }

    // When, which way to turn, and about how much. Without `side_` only the forecast; on the way back from an
    // open door or cold liquid none, which says nothing of what comes after it.
    Truth tell(VesselSituation const& now, Prospect const& own, Finding& finding, WatchOutput& out,
               std::optional<int> toward = {}) {
        auto const p = as_shown(own, *now.medium, now.now);
        double const low = now.band->low.celsius, high = now.band->high.celsius;
        double const horizon = seconds(manner_.look_ahead);
        int const side = toward.value_or(side_);
        double const limit = side > 0 ? high : low;
        auto const when = time_to_cross(p, limit, side > 0 ? Side::above : Side::below, 2 * horizon);
        if (!now.band_silenced) out.forecasts.push_back(forecast(now, when, side, 2 * horizon));
        if (side_ == 0) return Truth::absent;
        // What stands, or goes the other way, is on no way out; a cycle that has lost its turn may be.
        bool const goes = p.slope * side * 60 >= Words::steady_k_per_min;
        bool const lost_turn = usual_.beyond() == side || usual_.one_way() * side > 0;
        if (has_turned(*now.medium, side) || !(goes || lost_turn)) return Truth::unknown;
        if (holds_liquid(kind_) && side < 0 && p.slope < -no_cooling) return Truth::unknown;

        finding.order = advice(kind_,
                               {.level = p.level,
                                .slope = p.slope,
                                .target = 0.5 * (low + high),
                                .room = now.room_c.value_or(20),
                                .time_constant_s = learner_.time_constant()},
                               words_);
        bool const cold_food = side < 0 && fall_.open();  // perhaps: then it comes back by itself
        if (cold_food) finding.order = "If nothing cold went in, look at the heat.";
        finding.value = p.level;
        finding.variant = side;
        finding.text = now.vessel->name + " is at " + words_.at(p.level) + ", " + words_.moving(p.slope) +
                       ", and leaves its band (" + words_.band(low, high) + ") at the " +
                       (side > 0 ? "top" : "bottom");
        finding.text += when.eta_s ? " in " + Words::about(*when.eta_s) + "." : " soon.";
        if (usual_.beyond() != 0 && usual_.beyond() == side) {
            auto const& usual = *usual_.usual();
            if (usual_.rises_too_fast()) finding.text += " It warms faster than it ever does while shut.";
            finding.text += " It usually turns at " + words_.at(side > 0 ? usual.high : usual.low) + ".";
        } else if (usual_.one_way() != 0) {
            finding.text += " It has not turned for " + Words::in(UsualCycle::one_way_for) + ".";
        }
        if (!now.band_silenced) out.advice = finding.order;
        finding.action = cold_food ? Action::none : advised(kind_, side > 0);
        return Truth::present;
    }

    static double chance(Prospect const& p, double limit, Side side, double horizon) {
        double most = 0;
        for (double const h : {120.0, 300.0, 600.0, 1200.0, horizon}) {
            if (h <= horizon) most = std::max(most, chance_beyond(p, limit, side, h));
        }
        return most;
    }

    Words words_;
    VesselKind kind_;
    Manner manner_;
    // Its own trend, slower than conditioning's.
    Followed followed_;
    ResponseLearner learner_;
    UsualCycle usual_;
    int learnt_s_ = 0, doors_ = 0;
    std::optional<Instant> corrected_at_;  // a turn that came after a word of this watch was seen to work
    std::optional<Band> band_;
    int side_ = 0;  // that it is leaving by: +1 top, -1 bottom
    Fall fall_;
    bool silenced_ = false, recalled_ = false, fries_ = false;
};

std::unique_ptr<VesselWatch> make(Settings const& settings, int vessel) {
    return std::make_unique<LeavingBand>(settings, vessel);
}

}  // namespace

extern WatchInfo const leaving_band_watch;
WatchInfo const leaving_band_watch{.name = "leaving_band", .alarms = types, .for_vessel = &make};

}  // namespace ingle
