// probe-displaced: lifted out of the liquid or of the meat. Litres of liquid cannot lose 30 K in a minute and
// a half, and the middle of a roast not 8 K in half a minute; a tip in the air can. Nor does a pot jump up
// out of its band but when something hot is poured in, nor do two vessels change levels: then it is asked
// whether the probes were moved. For some minutes no trend is believed of the vessel by them; its level is
// told with the question, and high where it is far out.
#include <algorithm>

#include "daemon/conditioning/displaced.hpp"
#include "daemon/conditioning/followed.hpp"
#include "daemon/watches/probe_displaced/exchanged.hpp"
#include "daemon/watches/watch.hpp"
#include "daemon/watches/words.hpp"

namespace ingle {
namespace {

constexpr AlarmType types[] = {{.name = "probe-displaced",
                                .priority = Priority::medium,
                                .on_delay = std::chrono::seconds(3),
                                .off_delay = std::chrono::seconds(10),
                                .over = "no longer reads as if out of its place"}};

// Of the depth regained: it is in something warm again. A tip in the air only falls, or wavers in the steam.
constexpr double core_back_share = 0.65, liquid_back_share = 0.35;
constexpr double usual_room_c = 22, near_room_k = 4;
constexpr int stands_s = 60;
// A tip in hot fat, or in a hot pan, falls so far in seconds when something wet boils around it; in the air
// it goes on.
constexpr double over_boil_k = 10, under_boil_k = 8;
constexpr Span liquid_on_delay = std::chrono::seconds(20);
// A litre of water takes 0.24 K/s of each kilowatt (4.19 kJ/(kg K), CRC Handbook): what rises by less may be
// a small pot on a strong burner, and is believed.
constexpr double pot_rise_k_per_s = 0.35, beyond_pot_k = 2, rest_k = 1.5, near_band_k = 2;
constexpr int rises_within_s[] = {10, 20, 30, 45}, rested_s = 20;
constexpr Span rarest = std::chrono::seconds(5);  // between readings: no rate of seconds is seen in more
constexpr int asked_for_s = 600, exchanged_for_s = 1800;  // then it is what the vessel does
constexpr double cold_leap_k = 20;                        // an open door does less in so few seconds
constexpr int cold_leap_s = 10;
constexpr double rise_back_share = 0.5;
constexpr double far_k = 5, near_boil_k = 3;

class ProbeDisplaced final : public ProbeWatch {
public:
    enum class In { core, liquid, air };
    ProbeDisplaced(TemperatureUnit unit, In in)
        : words_(unit),
          drop_(in == In::core ? faster_than_core : faster_than_liquid),
          core_(in == In::core),
          falls_tell_(in != In::air) {}

    void step(ProbeSituation const& now, WatchOutput& out) override {
        auto const& signal = *now.signal;
        Finding finding;
        finding.type = &types[0];
        // One wild sample of a noisy probe would be the height that it then falls from.
        if (recalled_at_) past_.skip(now.now - *recalled_at_);
        recalled_at_.reset();
        stepped_ = now.now;
        past_.put(signal.doubtful || !could_be(now) ? std::nullopt : as_read(signal));
        exchanged_.take(now.signals);
        if (asked(now, finding)) {
            out_ = false;
            out.doubted.push_back(now.number);
            out.findings.push_back(std::move(finding));
            return;
        }
        if (!falls_tell_ || !now.in_use || seconds(signal.every) > 0.5 * drop_.within_s) {
            out_ = false;  // nothing depends on where it is; or so rare readings cannot tell how fast it fell
        } else if (!signal.fresh) {
            finding.truth = Truth::unknown;
            falls_ = false;
        } else if (!out_) {
            auto const before = past_.highest(drop_.within_s, 3);
            auto const held = past_.mean(5, 0);
            bool const may_boil = before && held && !core_ && *before > now.boiling_c + over_boil_k &&
                                  *held > now.boiling_c - under_boil_k;
            if (before && held && !may_boil && *before >= displaced_from_c &&
                *before - *held > drop_.kelvin) {
                out_ = true;
                before_ = *before;
                lowest_ = fell_to_ = *held;
                falls_ = true;
                stood_s_ = out_s_ = 0;
            }
        } else {
            lowest_ = std::min(lowest_, signal.celsius);
            falls_ = falls_ && !signal.settled;
            if (falls_) fell_to_ = lowest_;
            // Back; or at rest where only the food is, in another place of it, or where the liquid is to be.
            bool const there = core_ ? !like_air(now) : in_band(now);
            stood_s_ = signal.settled && there ? stood_s_ + 1 : 0;
            if (stood_s_ > stands_s ||
                signal.celsius >
                    lowest_ + (core_ ? core_back_share : liquid_back_share) * (before_ - lowest_)) {
                out_ = false;
                past_.clear();
            }
        }
        if (signal.fresh && out_) {
            if (!core_ && ++out_s_ <= asked_for_s) out.doubted.push_back(now.number);
            finding.truth = Truth::present;
            // A cold spoon against the tip does the same to it, for seconds.
            if (!core_) finding.on_delay = liquid_on_delay;
            finding.value = signal.celsius;
            finding.text = now.probe->name + " fell from " + words_.at(before_) + " to " +
                           words_.at(fell_to_) + " faster than " +
                           (core_ ? "the middle of a dish" : "a pot of liquid") + " can: ";
            // A core that was pushed to a colder place stops there; in the air it goes on to the room.
            bool const surely = !core_ || lowest_ < now.room_c.value_or(usual_room_c) + near_room_k;
            if (!surely) finding.priority = Priority::low;
            finding.text +=
                surely ? "it is probably out of it. Put it back."
                       : "it was probably moved: within the food if it comes to rest well above the room, "
                         "else out of it.";
        }
        out.findings.push_back(std::move(finding));
    }

    void remember(Memory& memory, std::string const& prefix) const override {
        if (stepped_) {
            memory.put(prefix + "past", past_.text(1));
            memory.put(prefix + "past-at", *stepped_);
        }
        if (asked_ != Asked::nothing) {
            memory.put(prefix + "asked", static_cast<std::int64_t>(asked_));
            memory.put(prefix + "asked-s", std::int64_t{asked_s_});
            memory.put(prefix + "other", std::int64_t{other_});
            memory.put(prefix + "left", left_);
            memory.put(prefix + "went-to", went_to_);
        }
        if (!out_) return;
        memory.put(prefix + "stood-s", std::int64_t{stood_s_});
        memory.put(prefix + "before", before_);
        memory.put(prefix + "lowest", lowest_);
        memory.put(prefix + "fell-to", fell_to_);
    }
    void recall(Memory const& memory, std::string const& prefix) override {
        recalled_at_ = memory.instant(prefix + "past-at");
        if (!recalled_at_ || !past_.read(memory.text(prefix + "past").value_or(""))) recalled_at_.reset();
        stepped_ = recalled_at_;
        auto const asked = memory.integer(prefix + "asked"), other = memory.integer(prefix + "other");
        if (asked == 1 || (asked == 2 && other) || asked == 3) {
            asked_ = static_cast<Asked>(*asked);
            asked_s_ = static_cast<int>(memory.integer(prefix + "asked-s").value_or(0));
            other_ = static_cast<int>(other.value_or(-1));
            left_ = memory.number(prefix + "left").value_or(0);
            went_to_ = memory.number(prefix + "went-to").value_or(0);
        }
        stood_s_ = static_cast<int>(memory.integer(prefix + "stood-s").value_or(0));
        auto const before = memory.number(prefix + "before"), lowest = memory.number(prefix + "lowest");
        out_ = before && lowest;
        before_ = before.value_or(0);
        lowest_ = lowest.value_or(0);
        fell_to_ = memory.number(prefix + "fell-to").value_or(lowest_);
    }

private:
    // Where it is at a level that its vessel cannot have come to by itself: true, and what is asked, if
    // anything.
    bool asked(ProbeSituation const& now, Finding& finding) {
        auto const& signal = *now.signal;
        if (!now.in_use || !signal.fresh) asked_ = Asked::nothing;
        if (asked_ != Asked::nothing) {
            bool const back = std::abs(signal.celsius - left_) < rise_back_share * std::abs(went_to_ - left_);
            bool const held = asked_ == Asked::rise && now.band && signal.celsius <= now.band->high.celsius;
            bool const gone = asked_ == Asked::exchange &&
                              (other_ < 0 || static_cast<std::size_t>(other_) >= now.probes.size());
            int const longest_s = asked_ == Asked::exchange ? exchanged_for_s : asked_for_s;
            // What it covered is told from then on, and not under its name.
            believed_ = ++asked_s_ > longest_s;
            if (back || held || gone || believed_) {
                asked_ = Asked::nothing;
                past_.clear();
                exchanged_.forget();
            }
        }
        if (asked_ != Asked::exchange && now.in_use && signal.fresh) ask(now);
        if (asked_ != Asked::nothing) believed_ = false;
        if (believed_) finding.off_delay = Span(0);
        if (asked_ == Asked::nothing) return false;
        finding.truth = Truth::present;
        finding.value = went_to_;
        finding.text = question(now);
        // Whether it is the pot or not is not known, and a pot so far out does not wait for an answer.
        bool const far =
            asked_ == Asked::rise && now.band &&
            (signal.celsius > now.band->high.celsius + far_k || signal.celsius > now.boiling_c - near_boil_k);
        if (far) finding.priority = Priority::high;
        return true;
    }
    void ask(ProbeSituation const& now) {
        auto const start = [&](Asked what, double left, double went_to) {
            asked_ = what;
            asked_s_ = 0;
            left_ = left;
            went_to_ = went_to;
        };
        // From its own band to where something is held: one that is lifted out as another one is dipped is
        // none.
        auto const with = exchanged_.with(now.number);
        bool const from_own_band = with && now.band && with->mine > now.band->low.celsius - near_band_k &&
                                   with->mine < now.band->high.celsius + near_band_k;
        if (from_own_band && with->its >= displaced_from_c) {
            other_ = with->probe;
            return start(Asked::exchange, with->mine, with->its);
        }
        if (asked_ != Asked::nothing || core_ || !now.band || now.signal->every > rarest) return;
        if (now.vessel && now.vessel->kind == VesselKind::fridge) {
            auto const held = past_.mean(2, 0), before = past_.mean(cold_leap_s + 2, cold_leap_s);
            if (held && before && *before - *held > cold_leap_k) start(Asked::leap, *before, *held);
            return;
        }
        if (!falls_tell_) return;
        double const low = now.band->low.celsius, high = now.band->high.celsius;
        for (int const w : rises_within_s) {
            auto const held = past_.lowest(2, 0), before = past_.mean(w + 2, w),
                       rested = past_.mean(w + rested_s + 2, w + rested_s);
            if (!held || !before || !rested || std::abs(*before - *rested) > rest_k) continue;
            bool const was_held = *before > low - near_band_k && *before <= high;
            if (was_held && *held > high && *held - *before > pot_rise_k_per_s * w + beyond_pot_k)
                return start(Asked::rise, *before, *held);
        }
    }
    std::string question(ProbeSituation const& now) const {
        std::string const& name = now.probe->name;
        if (asked_ == Asked::rise && now.band)
            return name + " rose from " + words_.at(left_) + " to " + words_.at(now.signal->celsius) +
                   " within seconds, above the band of its vessel (" +
                   words_.band(now.band->low.celsius, now.band->high.celsius) +
                   "): is the probe in something else, or was something hot put in?";
        if (asked_ == Asked::leap)
            return name + " went from " + words_.at(left_) + " to " + words_.at(went_to_) +
                   " within seconds, which no fridge does: look at the probe and its wire.";
        std::string const& its = now.probes[static_cast<std::size_t>(other_)].name;
        return name + " went from " + words_.at(left_) + " to " + words_.at(went_to_) +
               " in the moment in which " + its +
               " went the other way: the two may be exchanged. If they are, change them back.";
    }

    // What is hotter than its liquid can be was not in it: nothing falls from there.
    bool could_be(ProbeSituation const& now) const {
        bool const wet = !core_ && now.vessel && now.vessel->liquid != Liquid::fat;
        return !wet || now.signal->celsius < now.boiling_c + over_boil_k;
    }
    static bool in_band(ProbeSituation const& now) {
        return now.band && now.signal->celsius >= now.band->low.celsius &&
               now.signal->celsius <= now.band->high.celsius;
    }
    static bool like_air(ProbeSituation const& now) {
        return now.signal->celsius < now.room_c.value_or(usual_room_c) + near_room_k;
    }

    Words words_;
    Drop drop_;
    bool core_, falls_tell_;
    Past<96> past_;
    std::optional<Instant> stepped_, recalled_at_;  // the newest in it; it was read back, and ends there
    bool out_ = false;
    bool falls_ = false;  // still on the way that it was found by, without a gap
    enum class Asked { nothing, rise, exchange, leap };
    Asked asked_ = Asked::nothing;
    int asked_s_ = 0, other_ = -1;
    bool believed_ = false;  // nothing of it came true for too long
    double left_ = 0, went_to_ = 0;
    Exchanged exchanged_;
    int stood_s_ = 0, out_s_ = 0;
    double before_ = 0, fell_to_ = 0, lowest_ = 0;
};

std::unique_ptr<ProbeWatch> make(Settings const& settings, int probe) {
    auto const is = [&](int other) { return other == probe; };
    for (auto const& dish : settings.dishes) {
        if (is(dish.core) || std::any_of(dish.more_cores.begin(), dish.more_cores.end(), is)) {
            return std::make_unique<ProbeDisplaced>(settings.units, ProbeDisplaced::In::core);
        }
    }
    for (auto const& vessel : settings.vessels) {
        if (!is(vessel.medium) && !std::any_of(vessel.more.begin(), vessel.more.end(), is)) continue;
        using In = ProbeDisplaced::In;
        return std::make_unique<ProbeDisplaced>(settings.units,
                                                holds_liquid(vessel.kind) ? In::liquid : In::air);
    }
    return nullptr;
}

}  // namespace

extern WatchInfo const probe_displaced_watch;
WatchInfo const probe_displaced_watch{.name = "probe_displaced", .alarms = types, .for_probe = &make};

}  // namespace ingle
