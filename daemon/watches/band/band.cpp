// above-band, below-band: the medium is outside its band. The limit raises, the deadband inside it lets go
// (IEC 62682), so a value that dances on the limit is one spell. Warm-up is not judged here: `slow_to_reach`
// watches that. A sample that is marked doubtful never starts a spell.
#include <algorithm>
#include <cmath>

#include "daemon/conditioning/followed.hpp"
#include "daemon/conditioning/job.hpp"
#include "daemon/watches/look_at.hpp"
#include "daemon/watches/watch.hpp"
#include "daemon/watches/words.hpp"

namespace ingle {
namespace {

// Where a watch with a better name for it has spoken, this one is a consequence.
constexpr std::string_view above_causes[] = {"boil-over-risk",  "boiling",        "boiled-dry",
                                             "probe-displaced", "probe-reversed", "probe-stuck"};
constexpr std::string_view below_causes[] = {"heat-lost", "probe-displaced", "probe-reversed", "probe-stuck"};
constexpr AlarmType types[] = {{.name = "above-band",
                                .priority = Priority::medium,
                                .suppressed_by = above_causes,
                                .tells_inside = true,
                                .value_is_celsius = true,
                                .over = "is no longer above its band"},
                               {.name = "below-band",
                                .priority = Priority::medium,
                                .suppressed_by = below_causes,
                                .tells_inside = true,
                                .value_is_celsius = true,
                                .over = "is no longer below its band"}};
constexpr auto& above_band = types[0];
constexpr auto& below_band = types[1];
constexpr int followed_s = 10, longest_followed_s = 60;
constexpr double coarse_s_per_k = 15;
constexpr Span rare_readings = std::chrono::seconds(5);
constexpr double rare_moved_k = 2, rare_patience_s = 150;
constexpr double followed_k = 0.5;
constexpr double back_within_s = 30;
constexpr double near_for_s = 20 * 60, medium_for_s = 3600;

// How much outside is a matter of trimming, and how much is none, at most, however wide the band is: K.
struct Depth {
    double near_k, far_k;
};
constexpr Depth depth_of(VesselKind kind) {
    return holds_liquid(kind) || is_cold(kind) ? Depth{1, 5} : Depth{3, 20};
}
constexpr int stood_s = 12;            // what is deeper for less is no excursion, unless told sooner
constexpr double climbing = 3.0 / 60;  // K/s
constexpr double climbs_for_s = 3;
constexpr int door_s = 180;           // nobody looks into a fridge for so long
constexpr double warming = 0.1 / 60;  // K/s
constexpr double in_haste = 5;        // a fridge that warms on and on waits only so much less
constexpr double over_boil_k = 20;    // beyond what salt does
constexpr double in_unit_k = 5;       // of a band, to take a number for one in the other unit
constexpr double slight = 0.25;       // how much a second just outside counts
constexpr int handled_within_s[] = {3, 10, 30};
constexpr double handled_noises = 4;
constexpr Span handled_for = std::chrono::seconds(60);
// A pot that is taken off the fire gives away so much to the room by itself, K/s.
constexpr double pot_cools = 0.1;

// How long an excursion is normal: a pot answers in seconds, a fridge door is open for minutes.
Span usual_delay(VesselKind kind) {
    using std::chrono::minutes;
    using std::chrono::seconds;
    switch (kind) {
        case VesselKind::pot:
        case VesselKind::bath:
            return seconds(30);
        case VesselKind::smoker:
        case VesselKind::oven:
        case VesselKind::hot_box:
            return seconds(60);
        case VesselKind::fridge:
            return minutes(10);
        case VesselKind::room:
            return minutes(5);
    }
    return seconds(60);
}

class BandWatch final : public VesselWatch {
public:
    BandWatch(Settings const& settings, int vessel) : words_(settings.units) {
        auto const& v = settings.vessels[static_cast<std::size_t>(vessel)];
        auto const usual = usual_delay(v.kind);
        depth_ = depth_of(v.kind);
        waits_for_doors_ = v.kind == VesselKind::fridge && !v.on_delay;
        lasts_ = holds_liquid(v.kind) || is_cold(v.kind);
        fast_ = liveliness(job_of(settings, v.medium)).fast;
        on_delay_ = v.on_delay ? from_seconds(v.on_delay->seconds) : usual;
        off_delay_ = v.off_delay ? from_seconds(v.off_delay->seconds)
                     // Each time its compressor runs a fridge is inside for minutes.
                     : is_cold(v.kind) ? usual
                                       : std::min<Span>(usual, std::chrono::minutes(1));
        patient_ = !v.on_delay;  // a delay that the file gives is kept, to the second, from the first reading
        if (v.deadband) deadband_ = v.deadband->kelvin;
    }

    void step(VesselSituation const& now, WatchOutput& out) override {
        bool const judged = now.band && now.phase == BandPhase::held && now.medium;
        if (recalled_) band_ = now.band;  // a restart is no new band: the spell goes on
        recalled_ = false;
        if (!judged || now.band != band_) {
            band_ = now.band;
            side_ = told_side_ = 0;
            confirmed_ = false;
            beyond_s_ = 0;
            worst_ = 0;
            far_ = false;
            swing_ = Span(0);
        }
        if (!judged) return say(out, Truth::absent, now);
        // What swings across its limit comes back each period: it is over after a whole one inside.
        if (auto const& cycle = now.medium->cycle) swing_ = from_seconds(1.5 * cycle->period_s);
        if (!now.medium->fresh) return say(out, Truth::unknown, now);

        double const low = now.band->low.celsius, high = now.band->high.celsius;
        double const width = high - low;
        // A tenth of the band, so that a narrow band keeps a middle and a wide one is not held by its rim.
        double const deadband = std::min(deadband_.value_or(std::clamp(0.1 * width, 0.2, 2.0)), 0.45 * width);
        double const level = now.medium->level;
        auto const judged_before = stepped_;
        bool const following = follows_step(*now.medium, now.now);
        // A coarse instrument stands between its steps.
        double const slope = now.medium->slope;
        warming_s_ = slope > warming ? warming_s_ + 1 : slope < 0 ? 0 : std::max(warming_s_ - 1, 0);
        bool const inside = (side_ > 0 && level < high - deadband) || (side_ < 0 && level > low + deadband);
        auto const handled = confirmed_ ? why_it_may_be_handled(now) : std::string();
        if (!handled.empty() && inside) return say(out, Truth::unknown, now, handled);
        if (inside) side_ = 0;
        int const beyond_side = level > high ? 1 : level < low ? -1 : 0;
        if (side_ == 0) {
            worst_ = 0;
            far_ = false;
            beyond_s_ = outside_s_ = 0;
            // While a door is open or a ladle of cold water is in, nothing new begins.
            if (!now.medium->doubtful && !now.band_silenced) side_ = beyond_side;
            // Out again before the end of the excursion before was believed: it goes on.
            ++inside_s_;
            confirmed_ = side_ != 0 && side_ == told_side_ && inside_s_ < seconds(off_delay_);
        }
        if (side_ == 0 || (beyond_s_ == 0 && !confirmed_)) left_at_ = now.now;
        if (side_ != 0 && !confirmed_) {
            // A gust that dips under the limit and comes back does not add up to a spell, dancing on it does.
            // The further out, the sooner: a hair's breadth takes four times the delay.
            double const out_by = side_ > 0 ? level - high : low - level;
            double const pace = patient_ ? std::clamp(out_by / (0.15 * width), slight, 1.0) : 1.0;
            if (beyond_s_ == 0 && !patient_) {
                beyond_s_ = held_s(*now.medium, judged_before, now.now);
                left_at_ = now.now - from_seconds(beyond_s_);
            }
            beyond_s_ += beyond_side == side_ ? (stands_open() ? in_haste : 1.0) * pace : -0.5 * slight;
            beyond_s_ = std::max(beyond_s_, 0.0);
            if (now.band_silenced) side_ = 0;
        }
        if (side_ != 0) {
            double const beyond = side_ > 0 ? level - high : low - level;
            bool const stands = !following || goes_on_out(*now.medium);
            if ((beyond_s_ >= seconds(on_delay_) || climbs_away(*now.medium)) && stands && beyond > 0 &&
                !comes_back(*now.medium, beyond))
                confirmed_ = true;
            if (confirmed_) {
                told_side_ = side_;
                inside_s_ = 0;
            }
            // What an open door or cold liquid explains, for as long as that is believed, is no worse for it,
            // and the first seconds of it are not known for that yet.
            double const stood =
                std::min(beyond, stood_beyond(low, high, *now.medium, now.now).value_or(beyond));
            if (stood > worst_ && !now.medium->doubtful && !following && !now.band_silenced) worst_ = stood;
            // Half a band outside is no longer a matter of trimming, a quarter for an hour neither.
            outside_s_ += beyond_side == side_ && !now.band_silenced ? 1 : 0;
            double const far = std::min(std::max(0.5 * width, 2.0), depth_.far_k);
            bool const lasting = lasts_ && outside_s_ > medium_for_s && beyond > 0.5 * far;
            if (worst_ > far || lasting) far_ = true;
            // A hair's breadth outside is worth a word, and a louder one only if it stays.
            near_ = worst_ < std::min(0.12 * width, depth_.near_k) && outside_s_ < near_for_s;
        }
        say(out, Truth::present, now);
    }

    void remember(Memory& memory, std::string const& prefix) const override {
        memory.put(prefix + "side", std::int64_t{side_});
        memory.put(prefix + "worst", worst_);
        memory.put(prefix + "beyond-s", beyond_s_);
        memory.put(prefix + "outside-s", outside_s_);
        memory.put(prefix + "far", std::int64_t{far_});
        if (left_at_) memory.put(prefix + "left-at", *left_at_);
        remember_fields(memory, prefix + "state", *this);
        if (!stepped_) return;
        memory.put(prefix + "recent", recent_.text(1));
        memory.put(prefix + "recent-at", *stepped_);
    }
    void recall(Memory const& memory, std::string const& prefix) override {
        recalled_ = true;
        side_ = static_cast<int>(memory.integer(prefix + "side").value_or(0));
        worst_ = memory.number(prefix + "worst").value_or(0);
        beyond_s_ = memory.number(prefix + "beyond-s").value_or(0);
        confirmed_ = beyond_s_ >= seconds(on_delay_);
        outside_s_ = memory.number(prefix + "outside-s").value_or(0);
        far_ = memory.integer(prefix + "far").value_or(0) != 0;
        left_at_ = memory.instant(prefix + "left-at");
        recall_fields(memory, prefix + "state", *this);
        recalled_at_ = memory.instant(prefix + "recent-at");
        if (!recalled_at_ || !recent_.read(memory.text(prefix + "recent").value_or(""))) recalled_at_.reset();
        stepped_ = recalled_at_;
    }
    template <class Visit>
    void fields(Visit& visit) {
        visit(told_side_, inside_s_, swing_, warming_s_, near_, confirmed_, handled_until_);
    }

private:
    // Long enough for two steps of a coarse instrument and three readings of a slow one.
    static int looked_back_s(Signal const& medium) {
        double const s = std::max(followed_s + coarse_s_per_k * medium.step, 3.5 * seconds(medium.every));
        return static_cast<int>(std::min<double>(s, longest_followed_s));
    }
    // A probe that follows a step is not where the medium is; once it stands still, it is.
    bool follows_step(Signal const& medium, Instant now) {
        if (recalled_at_) recent_.skip(now - *recalled_at_);
        recalled_at_.reset();
        stepped_ = now;
        recent_.put(medium.celsius);
        int const back = looked_back_s(medium);
        auto const lowest = recent_.lowest(back, 0), highest = recent_.highest(back, 0);
        if (!patient_) return false;
        if (!recent_.full(back) || !lowest) return !medium.settled;
        double const moved = *highest - *lowest - medium.step;
        // Readings that are seconds apart may not show yet that it is no trend: no liquid is so fast.
        bool const rare = medium.every >= rare_readings && outside_s_ < rare_patience_s;
        return medium.settled ? rare && moved > rare_moved_k : moved > followed_k;
    }
    // What is told does not end on evidence that may be a hand's: on its way back inside it goes faster than
    // the vessel can by itself, is not settled, or its door is open. "" = no such evidence.
    std::string why_it_may_be_handled(VesselSituation const& now) {
        auto const& medium = *now.medium;
        double const by_itself = side_ > 0 && holds_liquid(now.vessel->kind) ? pot_cools : fast_;
        for (int const within_s : handled_within_s) {
            double const s = std::max<double>(within_s, seconds(medium.every));
            int const back = std::min(static_cast<int>(s), longest_followed_s);
            auto const from = side_ > 0 ? recent_.highest(back, 0) : recent_.lowest(back, 0);
            double const went = from ? side_ * (*from - medium.celsius) : 0;
            if (went > by_itself * s + medium.step + handled_noises * medium.noise)
                handled_until_ = now.now + std::max<Span>(handled_for, medium.every + medium.every / 2);
        }
        if (now.band_silenced && !holds_liquid(now.vessel->kind))
            return "it moves as when its door is opened";
        if (handled_until_ && now.now < *handled_until_)
            return "its reading moves faster than " + now.vessel->name + " can by itself";
        if (medium.doubtful) return "its readings are doubtful";
        return medium.settled ? "" : "its reading has not settled yet";
    }
    // Before this second, while it was not believed yet.
    static double held_s(Signal const& medium, std::optional<Instant> judged_before, Instant now) {
        if (!medium.held_since || !judged_before || *medium.held_until < *judged_before) return 0;
        return std::ceil(seconds(now - *medium.held_since)) - 1;
    }
    // A liquid that runs up through its limit does not come back by itself.
    bool climbs_away(Signal const& medium) const {
        return patient_ && lasts_ && side_ > 0 && beyond_s_ >= climbs_for_s && medium.settled &&
               medium.slope > climbing + 4 * std::sqrt(medium.slope_variance);
    }
    // A tip on its way out of a liquid's band shows less than what it stands in has gone out by.
    bool goes_on_out(Signal const& medium) const {
        int const back = looked_back_s(medium);
        auto const newest = recent_.mean(3, 0), middle = recent_.mean(back / 2 + 2, back / 2 - 1),
                   oldest = recent_.mean(back, back - 3);
        if (!lasts_ || !newest || !middle || !oldest) return false;
        double const least = 0.5 * medium.step + medium.noise;
        return side_ * (*newest - *oldest) > 2 * least && side_ * (*newest - *middle) > -least;
    }
    // A slow probe on its way back from a moment in the air: inside before the delay would be over.
    bool comes_back(Signal const& medium, double out_by) const {
        int const back = looked_back_s(medium);
        auto const newest = recent_.mean(2, 0), before = recent_.mean(back, back - 2);
        if (!patient_ || !lasts_ || !newest || !before) return false;
        double const rate = (side_ > 0 ? *before - *newest : *newest - *before) / (back - 2);
        return out_by < rate * back_within_s;
    }
    std::optional<double> stood_beyond(double low, double high, Signal const& medium, Instant now) const {
        int back = std::min(static_cast<int>(seconds(on_delay_)) - 1, stood_s);
        // Before that the newest level was not believed yet.
        if (!patient_ && medium.held_until && *medium.held_until > now - std::chrono::seconds(back))
            back = static_cast<int>(seconds(now - *medium.held_until));
        if (back < 1) return std::nullopt;
        auto const nearest = side_ > 0 ? recent_.lowest(back, 0) : recent_.highest(back, 0);
        if (!nearest) return std::nullopt;
        return side_ > 0 ? *nearest - high : low - *nearest;
    }
    // A door that somebody looks through is shut again by now.
    bool stands_open() const { return waits_for_doors_ && side_ > 0 && warming_s_ > door_s; }

    // No water is so hot; a pot that ran dry may be, and so may a number in the other unit.
    std::string too_hot_for_it(VesselSituation const& now, double level) const {
        bool const wet = holds_liquid(now.vessel->kind) && now.vessel->liquid == Liquid::water;
        if (!wet || level < now.boiling_c + over_boil_k) return "";
        double const as_fahrenheit = (level - 32) / 1.8;
        bool const would_do = as_fahrenheit > now.band->low.celsius - in_unit_k &&
                              as_fahrenheit < now.band->high.celsius + in_unit_k;
        return " No water is so hot: look whether the pot is dry, and whether the probe is in it" +
               (would_do ? ", or sends degF for degC: that would be " + words_.at(as_fahrenheit) + "." : ".");
    }

    // What has turned, and is on its way back by itself, is let be.
    void what_to_do(Finding& f, int side, VesselSituation const& now) const {
        auto const hot = side > 0 ? too_hot_for_it(now, now.medium->level) : std::string();
        double const back = -side * now.medium->slope * 60;
        bool const turned = now.medium->settled && back >= Words::steady_k_per_min;
        if (!hot.empty()) {
            f.order = hot.substr(1);
        } else if (turned) {
            f.order = "Wait: it is on its way back.";
        } else {
            f.order = turn_back(now.vessel->kind, side > 0);
            f.action = action_back(now.vessel->kind, side > 0);
            f.yields = true;
        }
    }

    // `why_unknown`: of a fresh medium.
    void say(WatchOutput& out, Truth outside, VesselSituation const& now,
             std::string const& why_unknown = {}) {
        for (int const side : {1, -1}) {
            Finding f;
            f.type = side > 0 ? &above_band : &below_band;
            f.on_delay = Span(0);  // counted above
            f.since = left_at_;
            f.off_delay = std::max(off_delay_, swing_);
            f.truth = outside == Truth::present && (side != side_ || !confirmed_) ? Truth::absent : outside;
            if (f.truth == Truth::unknown && !why_unknown.empty())
                f.meanwhile = "Whether " + now.vessel->name + " is still " + (side > 0 ? "above" : "below") +
                              " its band (" + words_.band(now.band->low.celsius, now.band->high.celsius) +
                              ") is not known: " + why_unknown + ".";
            if (f.truth == Truth::present) {
                double const limit = side > 0 ? now.band->high.celsius : now.band->low.celsius;
                double const level = now.medium->level;
                f.value = limit + side * worst_;
                f.priority = far_ ? Priority::high : near_ ? Priority::low : Priority::medium;
                f.text = now.vessel->name + " is at " + words_.at(level) + ", ";
                double const beyond = side * (level - limit);
                f.text += beyond > 0
                              ? words_.by(beyond) + (side > 0 ? " above" : " below")
                              : std::string("just inside the ") + (side > 0 ? "top" : "bottom") + " of";
                f.text += " its band (" + words_.band(now.band->low.celsius, now.band->high.celsius) + ")";
                if (now.medium->settled) f.text += ", " + words_.moving(now.medium->slope);
                f.text += ".";
                what_to_do(f, side, now);
            }
            out.findings.push_back(std::move(f));
        }
    }

    Words words_;
    std::optional<Instant> left_at_;  // the first reading beyond the band, of those that are counted
    Span on_delay_{}, off_delay_{};
    bool waits_for_doors_ = false;
    int warming_s_ = 0;
    Depth depth_{};
    bool lasts_ = false;  // an hour outside is high
    Span swing_{};        // of a thermostat or a compressor, if one was seen
    std::optional<double> deadband_;
    std::optional<Band> band_;
    int told_side_ = 0;    // of the newest excursion that counted
    double inside_s_ = 0;  // since then
    int side_ = 0;         // +1 above, -1 below, 0 inside
    double beyond_s_ = 0;  // seconds outside, less half of those inside again, until it counts
    double worst_ = 0;     // K beyond the limit in this spell
    double outside_s_ = 0;
    bool far_ = false, near_ = false;
    bool recalled_ = false;
    std::optional<Instant> stepped_, recalled_at_;  // the newest in `recent_`; read back, and ends there
    Past<longest_followed_s + 1> recent_;
    double fast_ = 0;                       // K/s: faster than the vessel can by itself
    std::optional<Instant> handled_until_;  // it went faster
    bool patient_ = true;
    bool confirmed_ = false;  // the spell lasts, and the probe stands in it
};

std::unique_ptr<VesselWatch> make(Settings const& settings, int vessel) {
    return std::make_unique<BandWatch>(settings, vessel);
}

}  // namespace

extern WatchInfo const band_watch;
WatchInfo const band_watch{.name = "band", .alarms = types, .for_vessel = &make};

}  // namespace ingle
