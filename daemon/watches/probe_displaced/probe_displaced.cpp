// probe-displaced: lifted out of the liquid or of the meat. Litres of liquid cannot lose 30 K in a minute and
// a half, and the middle of a roast not 8 K in half a minute; a tip in the air can.
#include <algorithm>

#include "daemon/conditioning/displaced.hpp"
#include "daemon/conditioning/followed.hpp"
#include "daemon/watches/watch.hpp"
#include "daemon/watches/words.hpp"

namespace ingle {
namespace {

constexpr AlarmType types[] = {{.name = "probe-displaced",
                                .priority = Priority::medium,
                                .on_delay = std::chrono::seconds(3),
                                .off_delay = std::chrono::seconds(10)}};

// Of the depth regained: it is in something warm again. A tip in the air only falls, or wavers in the steam.
constexpr double core_back_share = 0.65, liquid_back_share = 0.35;
constexpr double usual_room_c = 22, near_room_k = 4;
constexpr int stands_s = 60;
// A tip in hot fat, or in a hot pan, falls so far in seconds when something wet boils around it; in the air
// it goes on.
constexpr double over_boil_k = 10, under_boil_k = 8;
constexpr Span liquid_on_delay = std::chrono::seconds(20);

class ProbeDisplaced final : public ProbeWatch {
public:
    ProbeDisplaced(TemperatureUnit unit, bool core)
        : words_(unit), drop_(core ? faster_than_core : faster_than_liquid), core_(core) {}

    void step(ProbeSituation const& now, WatchOutput& out) override {
        auto const& signal = *now.signal;
        Finding finding;
        finding.type = &types[0];
        // One wild sample of a noisy probe would be the height that it then falls from.
        if (recalled_at_) past_.skip(now.now - *recalled_at_);
        recalled_at_.reset();
        stepped_ = now.now;
        past_.put(signal.doubtful || !could_be(now) ? std::nullopt : as_read(signal));
        if (!now.in_use || seconds(signal.every) > 0.5 * drop_.within_s) {
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
                stood_s_ = 0;
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
        stood_s_ = static_cast<int>(memory.integer(prefix + "stood-s").value_or(0));
        auto const before = memory.number(prefix + "before"), lowest = memory.number(prefix + "lowest");
        out_ = before && lowest;
        before_ = before.value_or(0);
        lowest_ = lowest.value_or(0);
        fell_to_ = memory.number(prefix + "fell-to").value_or(lowest_);
    }

private:
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
    bool core_;
    Past<96> past_;
    std::optional<Instant> stepped_, recalled_at_;  // the newest in it; it was read back, and ends there
    bool out_ = false;
    bool falls_ = false;  // still on the way that it was found by, without a gap
    int stood_s_ = 0;
    double before_ = 0, fell_to_ = 0, lowest_ = 0;
};

std::unique_ptr<ProbeWatch> make(Settings const& settings, int probe) {
    auto const is = [&](int other) { return other == probe; };
    for (auto const& dish : settings.dishes) {
        if (is(dish.core) || std::any_of(dish.more_cores.begin(), dish.more_cores.end(), is)) {
            return std::make_unique<ProbeDisplaced>(settings.units, true);
        }
    }
    for (auto const& vessel : settings.vessels) {
        bool const liquid = holds_liquid(vessel.kind);
        if (liquid && (is(vessel.medium) || std::any_of(vessel.more.begin(), vessel.more.end(), is))) {
            return std::make_unique<ProbeDisplaced>(settings.units, false);
        }
    }
    return nullptr;
}

}  // namespace

extern WatchInfo const probe_displaced_watch;
WatchInfo const probe_displaced_watch{.name = "probe_displaced", .alarms = types, .for_probe = &make};

}  // namespace ingle
