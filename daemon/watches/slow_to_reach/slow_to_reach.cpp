// slow-to-reach: a vessel that warms up (or cools down) to its band takes longer than it should. The band
// alarms are silent until then, so this is what tells a fire that was never lit.
#include <algorithm>
#include <cmath>

#include "daemon/conditioning/followed.hpp"
#include "daemon/watches/look_at.hpp"
#include "daemon/watches/watch.hpp"
#include "daemon/watches/words.hpp"

namespace ingle {
namespace {

constexpr std::string_view causes[] = {"probe-reversed", "probe-displaced", "probe-stuck"};
constexpr AlarmType types[] = {{.name = "slow-to-reach",
                                .priority = Priority::medium,
                                .on_delay = std::chrono::minutes(1),
                                .suppressed_by = causes,
                                .over = "is no longer slow on the way to its band"}};

// Our own judgement: an oven that was hotter before comes down faster than that.
constexpr Span stands_for = std::chrono::minutes(10), longest_way = std::chrono::hours(1);
constexpr Span known_after = std::chrono::seconds(45);  // a rate, after a gap

Span usual_deadline(VesselKind kind) {  // where the kitchen file says nothing; our own judgement
    using std::chrono::hours;
    using std::chrono::minutes;
    switch (kind) {
        case VesselKind::pot:
        case VesselKind::smoker:
        case VesselKind::hot_box:
            return minutes(90);
        case VesselKind::oven:
            return minutes(45);
        case VesselKind::bath:
            return hours(2);
        case VesselKind::fridge:
            return hours(6);
        case VesselKind::room:
            return hours(12);
    }
    return hours(2);
}

class SlowToReach final : public VesselWatch {
public:
    SlowToReach(Settings const& settings, int number) : words_(settings.units) {
        auto const& vessel = settings.vessels[static_cast<std::size_t>(number)];
        deadline_ =
            vessel.reach_within ? from_seconds(vessel.reach_within->seconds) : usual_deadline(vessel.kind);
    }

    void step(VesselSituation const& now, WatchOutput& out) override {
        Finding finding;
        finding.type = &types[0];
        if (now.band && now.medium && now.phase == BandPhase::warming_up) {
            if (now.medium->fresh) followed_.take(*now.medium);
            finding.truth = now.medium->fresh ? judge(now, finding) : Truth::unknown;
        } else {
            stands_since_.reset();
        }
        out.findings.push_back(std::move(finding));
    }

    void remember(Memory& memory, std::string const& prefix) const override {
        remember_fields(memory, prefix + "trend", followed_);
        if (stands_since_) memory.put(prefix + "stands", *stands_since_);
    }
    void recall(Memory const& memory, std::string const& prefix) override {
        recall_fields(memory, prefix + "trend", followed_);
        stands_since_ = memory.instant(prefix + "stands");
    }

private:
    // Beyond its band on the side that no vessel of its kind comes from by itself, and it does not come.
    bool stands_beyond(VesselSituation const& now, double rim) {
        bool const cold = is_cold(now.vessel->kind);
        double const level = now.medium->level, slope = followed_.slope();
        double const beyond = cold ? now.band->low.celsius - level : level - now.band->high.celsius;
        double const back = cold ? slope : -slope;
        bool const stands = beyond > rim && (back <= 0 || beyond / back > seconds(longest_way));
        if (!stands) stands_since_.reset();
        if (stands && !stands_since_) stands_since_ = now.now;
        return stands && now.now - *stands_since_ >= stands_for;
    }

    Truth judge(VesselSituation const& now, Finding& finding) {
        Span const taken = now.now - now.band_since;
        double const level = now.medium->level, slope = followed_.slope();
        // Right after a gap, or after the program was off, nothing is known of it.
        bool const known = followed_.settled(now.now, known_after);
        std::string const moving = known ? ", " + words_.moving(slope) : "";
        // A hair's breadth outside is not worth a word: it was nearly there.
        double const rim = 0.1 * (now.band->high.celsius - now.band->low.celsius);
        if (stands_beyond(now, rim)) {
            bool const cold = is_cold(now.vessel->kind);
            finding.value = level;
            finding.action = cold ? Action::raise_heat : Action::lower_heat;
            finding.text = now.vessel->name + " is at " + words_.at(level) + (cold ? ", below" : ", above") +
                           " its band (" + words_.band(now.band->low.celsius, now.band->high.celsius) + ")" +
                           moving + ": it has not been in it, and so it does not get there.";
            finding.order = look_at(now.vessel->kind, !cold);
            return Truth::present;
        }
        if (taken < deadline_) return Truth::absent;
        bool const below = level < now.band->low.celsius;
        if (level > now.band->low.celsius - rim && level < now.band->high.celsius + rim) return Truth::absent;
        double const limit = below ? now.band->low.celsius : now.band->high.celsius;
        finding.value = level;
        finding.text = now.vessel->name + " has not reached its band (" +
                       words_.band(now.band->low.celsius, now.band->high.celsius) + ") after " +
                       Words::in(taken) + ": it is at " + words_.at(level) + moving + ".";
        double const left = (limit - level) / slope;
        bool const on_its_way = slope != 0 && left > 0 && left < 3 * 3600.0;
        if (known)
            finding.text += on_its_way ? " At this rate it takes " + Words::about(left) + " more."
                                       : " As it is now it does not get there.";
        finding.order = look_at(now.vessel->kind, !below);
        return Truth::present;
    }

    Words words_;
    Span deadline_{};
    std::optional<Instant> stands_since_;
    Followed followed_{1e-9};
};

std::unique_ptr<VesselWatch> make(Settings const& settings, int vessel) {
    return std::make_unique<SlowToReach>(settings, vessel);
}

}  // namespace

extern WatchInfo const slow_to_reach_watch;
WatchInfo const slow_to_reach_watch{.name = "slow_to_reach", .alarms = types, .for_vessel = &make};

}  // namespace ingle
