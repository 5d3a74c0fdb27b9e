// leaving-band: inside the band, but on the way out of it. Says when, which way to turn and about how much.
// A damped trend decides, with its own variance: a value that only trembles is not leaving, and a correction
// that already works bends the trend before the cook is told a second time.
#include <algorithm>
#include <cmath>

#include "daemon/conditioning/followed.hpp"
#include "daemon/watches/leaving_band/advice.hpp"
#include "daemon/watches/watch.hpp"
#include "daemon/watches/words.hpp"

namespace ingle {
namespace {

constexpr std::string_view causes[] = {"above-band", "below-band", "boil-over-risk", "boiling",
                                       "boiled-dry", "heat-lost",  "probe-displaced"};
constexpr AlarmType types[] = {{.name = "leaving-band",
                                .priority = Priority::low,
                                .off_delay = std::chrono::minutes(1),
                                .suppressed_by = causes}};

constexpr double raise_at = 0.8, clear_below = 0.4;

// A band that is left within two minutes, almost surely, is told on less evidence: later would be too late.
constexpr double urgent_horizon_s = 120, urgent_chance = 0.95;
constexpr Span urgent_evidence{25'000}, usual_evidence{60'000}, urgent_on_delay{10'000};

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
            return {minutes(20), seconds(90), 3e-9};
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
          followed_(manner_.slope_walk) {
        auto const& vessel = settings.vessels[static_cast<std::size_t>(number)];
        if (vessel.look_ahead) manner_.look_ahead = from_seconds(vessel.look_ahead->seconds);
    }

    void step(VesselSituation const& now, WatchOutput& out) override {
        Finding finding;
        finding.type = &types[0];
        finding.on_delay = manner_.on_delay;
        if (now.medium) followed_.take(*now.medium);
        if (now.band != band_ || now.phase != BandPhase::held) side_ = 0;
        band_ = now.band;
        if (now.band && now.phase == BandPhase::held && now.medium) {
            finding.truth = now.medium->fresh && followed_.settled(now.now, urgent_evidence)
                                ? judge(now, finding, out)
                                : Truth::unknown;
        }
        out.findings.push_back(std::move(finding));
    }

private:
    Truth judge(VesselSituation const& now, Finding& finding, WatchOutput& out) {
        double const low = now.band->low.celsius, high = now.band->high.celsius;
        auto const p = followed_.prospect(now.now);
        // Outside is the band watch's to say; what was told before it stays until the way back.
        if (p.level > high || p.level < low) return side_ != 0 ? Truth::unknown : Truth::absent;
        if (auto const& cycle = now.medium->cycle; cycle && cycle->low > low && cycle->high < high) {
            side_ = 0;  // a thermostat swings inside the band
            return Truth::absent;
        }
        double const horizon = seconds(manner_.look_ahead);
        double const up = chance(p, high, Side::above, horizon), down = chance(p, low, Side::below, horizon);
        int const side = up >= down ? 1 : -1;
        double const chance = std::max(up, down);
        if (side_ != 0 && (side != side_ || chance < clear_below)) side_ = 0;
        if (side_ == 0 && chance > raise_at && !now.medium->doubtful && !now.band_silenced) side_ = side;
        if (chance < clear_below) return Truth::absent;
        bool const urgent = chance_beyond(p, side > 0 ? high : low, side > 0 ? Side::above : Side::below,
                                          urgent_horizon_s) > urgent_chance;
        if (!urgent && !followed_.settled(now.now, usual_evidence)) return Truth::unknown;
        if (urgent) finding.on_delay = urgent_on_delay;

        double const limit = side > 0 ? high : low;
        auto const when = time_to_cross(p, limit, side > 0 ? Side::above : Side::below, 2 * horizon);
        Forecast forecast;
        forecast.at = now.now;
        forecast.what = "leaving-band";
        forecast.subject = {SubjectKind::vessel, now.number};
        forecast.eta_s = when.eta_s;
        if (when.eta_s) {
            forecast.low_s = when.low_s;
            forecast.high_s = when.high_s.value_or(2 * horizon);
        } else {
            forecast.why = "it may not get there: the trend is too weak to name a time";
        }
        out.forecasts.push_back(std::move(forecast));
        if (side_ == 0) return Truth::absent;

        out.advice = advice(kind_, p.slope, p.level, now.room_c.value_or(20));
        finding.value = p.level;
        finding.text = now.vessel->name + " is at " + words_.at(p.level) + ", " + words_.moving(p.slope) +
                       ", and leaves its band (" + words_.band(low, high) + ") at the " +
                       (side > 0 ? "top" : "bottom");
        finding.text += when.eta_s ? " in " + Words::about(*when.eta_s) + ". " : " soon. ";
        finding.text += out.advice;
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
    std::optional<Band> band_;
    int side_ = 0;  // that it is leaving by: +1 top, -1 bottom
};

std::unique_ptr<VesselWatch> make(Settings const& settings, int vessel) {
    return std::make_unique<LeavingBand>(settings, vessel);
}

}  // namespace

extern WatchInfo const leaving_band_watch;
WatchInfo const leaving_band_watch{.name = "leaving_band", .alarms = types, .for_vessel = &make};

}  // namespace ingle
