// heat-lost against door-opened: the same drop, told apart by what follows. A door falls fast and comes back;
// a fire that is out falls and does not. While a door is open the band is silent, for a bounded time only.
#include <algorithm>
#include <cmath>

#include "daemon/conditioning/followed.hpp"
#include "daemon/watches/heat/element.hpp"
#include "daemon/watches/heat/food_added.hpp"
#include "daemon/watches/heat/opening.hpp"
#include "daemon/watches/watch.hpp"
#include "daemon/watches/words.hpp"

namespace ingle {
namespace {

constexpr std::string_view causes[] = {"probe-displaced", "probe-reversed"};
constexpr AlarmType types[] = {{.name = "heat-lost",
                                .priority = Priority::high,
                                .on_delay = std::chrono::seconds(20),
                                .off_delay = std::chrono::minutes(2),
                                .suppressed_by = causes,
                                .value_is_celsius = true,
                                .over = "no longer looks as if it had lost its heat"}};

// A fall as when the heat is gone: this far under the steady past, and still falling at this rate.
struct Fall {
    double least_k, least_share;  // the larger of K and the share of the height above the room
    double slope;                 // K/s
    int looked_at_s;              // falling all through this time
};
Fall fall_of(VesselKind kind) {
    // A pot of litres has no wind and no door: less is enough. A smoker's gusts cost it some 5 K.
    if (holds_liquid(kind)) return {3.0, 0.04, -0.4 / 60, 210};
    return {8.0, 0.09, -0.3 / 60, 240};
}

constexpr int past_every_s = 60;  // of what survives a restart
constexpr int looked_every_s = 5;
constexpr double most_unseen_k = 30;
constexpr double back_slope = 0.15 / 60;                     // K/s
constexpr Span touching_at_most = std::chrono::minutes(15);  // longer than this it is a worry all the same

class Heat final : public VesselWatch {
public:
    Heat(Settings const& settings, VesselKind kind)
        : words_(settings.units), kind_(kind), fall_(fall_of(kind)), opening_(kind) {}

    void step(VesselSituation const& now, WatchOutput& out) override {
        Finding finding;
        finding.type = &types[0];
        bool const fresh = now.medium && now.medium->fresh;
        auto const celsius = now.medium ? as_read(*now.medium) : std::nullopt;
        double const room = now.room_c.value_or(20);
        bool const liquid = holds_liquid(kind_);
        bool const cold = is_cold(kind_);
        if (now.dish_inside && !dish_inside_) dish_in_at_ = now.now;
        dish_inside_ = now.dish_inside;

        if (recalled_at_) {
            Span const off = now.now - *recalled_at_;
            past_.skip(off);
            recent_.skip(off);
            opening_.skip(off);
        }
        recalled_at_.reset();
        stepped_ = now.now;

        bool const turned_down = !cold && cooling_down(now);
        if (turned_down) {  // what it was at before is nothing that it lost
            past_.clear();
            if (!now.door_switch_open) opening_.forget();
        }
        Opening::Change change;
        if (now.door_switch_open)
            change = opening_.step_switch(now.now, *now.door_switch_open, celsius);
        else if (!liquid && !turned_down && (!now.medium || now.medium->every <= opening_.within()))
            change = opening_.step(now.now, celsius, room, fresh ? now.medium->step : 0);
        tell(change, now, out);
        if (cold) return;  // its doors are events; its warmth is the band's and the forecast's to judge
        if (!liquid && fresh) food_.step(change, opening_, now, words_, out);
        if (!liquid) {
            recent_.put(fresh ? std::optional(now.medium->level) : std::nullopt);
            touches_food(now, out);
        }

        bool const steady = fresh && now.medium->settled && opening_.state() == Opening::State::none;
        past_.put(steady ? std::optional(now.medium->level) : std::nullopt);
        if (fresh) followed_.take(*now.medium);
        if (opening_.silences(now.now)) out.silence_band = "door-opened";
        out.seems_open = opening_.state() == Opening::State::open;
        finding.truth = fresh ? judge(now, finding, room) : Truth::unknown;
        out.findings.push_back(std::move(finding));
    }

    void remember(Memory& memory, std::string const& prefix) const override {
        opening_.remember(memory, prefix + "opening.");
        if (dish_in_at_) memory.put(prefix + "dish-in", *dish_in_at_);
        memory.put(prefix + "touches", std::int64_t{touches_});
        remember_fields(memory, prefix + "walls", food_);
        remember_fields(memory, prefix + "element", element_);
        remember_fields(memory, prefix + "trend", followed_);
        memory.put(prefix + "recent", recent_.text(1));
        if (stepped_) {
            memory.put(prefix + "past", past_.text(past_every_s));
            memory.put(prefix + "past-at", *stepped_);
        }
        if (!lost_) return;
        memory.put(prefix + "reference", reference_);
        memory.put(prefix + "lowest", lowest_);
    }
    void recall(Memory const& memory, std::string const& prefix) override {
        opening_.recall(memory, prefix + "opening.");
        dish_in_at_ = memory.instant(prefix + "dish-in");
        dish_inside_ = dish_in_at_.has_value();
        touches_ = memory.integer(prefix + "touches").value_or(0) != 0;
        recall_fields(memory, prefix + "walls", food_);
        recall_fields(memory, prefix + "element", element_);
        recall_fields(memory, prefix + "trend", followed_);
        recent_.read(memory.text(prefix + "recent").value_or(""));
        auto const past = memory.text(prefix + "past");
        recalled_at_ = memory.instant(prefix + "past-at");
        if (!past || !recalled_at_ || !past_.read(*past)) recalled_at_.reset();
        stepped_ = recalled_at_;
        auto const reference = memory.number(prefix + "reference"), lowest = memory.number(prefix + "lowest");
        lost_ = reference && lowest;
        reference_ = reference.value_or(0);
        lowest_ = lowest.value_or(0);
    }

private:
    // The cook wants it colder: falling is what was asked for.
    static bool cooling_down(VesselSituation const& now) {
        return now.phase == BandPhase::warming_up && now.medium && now.medium->level > now.band->high.celsius;
    }

    void tell(Opening::Change const& change, VesselSituation const& now, WatchOutput& out) {
        auto const& name = now.vessel->name;
        bool const cold = is_cold(kind_);
        std::string const went = cold ? "warmed by " : "fell by ";
        Subject const subject{SubjectKind::vessel, now.number};
        if (change.closed) {
            Event event{now.now, "door-closed", subject, "", {}};
            event.text = name + (now.door_switch_open ? ": door shut after " : " turned back after ") +
                         Words::in(change.length);
            if (change.depth_k > 0) event.text += "; it " + went + words_.by(change.depth_k);
            if (change.recovery > Span(0)) event.text += "; back in " + Words::in(change.recovery);
            event.text += ".";
            event.numbers = {{"depth_c", change.depth_k},
                             {"open_s", seconds(change.length)},
                             {"recovery_s", seconds(change.recovery)}};
            if (change.recovery > Span(0)) out.door_recovery_s = seconds(change.recovery);
            out.events.push_back(std::move(event));
        }
        if (change.opened) {
            Event event{now.now, "door-opened", subject, name, {}};
            event.text += now.door_switch_open ? " was opened"
                                               : " " + went + words_.by(opening_.depth()) +
                                                     " within seconds, as when its door is opened";
            if (now.recovery_s > 0)
                event.text += "; the last time it was back after " + Words::about(now.recovery_s);
            event.text += ".";
            out.events.push_back(std::move(event));
        }
    }

    // F9: it fell when its dish was begun, and stands still far above the room. A fire that dies falls on,
    // and a probe that is put right jumps.
    void touches_food(VesselSituation const& now, WatchOutput& out) {
        bool const stuck = opening_.state() == Opening::State::stuck;
        if (!stuck && opening_.state() != Opening::State::recovering) touches_ = false;
        if (!(stuck || touches_) || !now.medium || !now.medium->fresh) return;
        double const level = now.medium->level;
        auto const minute_ago = recent_.mean(65, 55);
        if (touches_ && minute_ago && level - *minute_ago > 0.25 * (opening_.before() - level) + 5) {
            out.events.push_back(
                {now.now,
                 "probe-moved",
                 {SubjectKind::vessel, now.number},
                 now.vessel->name + " jumped by " + words_.by(level - *minute_ago) +
                     " within a minute, faster than a fire can: its probe was probably moved.",
                 {{"jump_c", level - *minute_ago}}});
            touches_ = lost_ = false;
            opening_.forget();
            past_.clear();
            return;
        }
        auto const before = recent_.mean(245, 235);
        bool const flat = before && std::abs(level - *before) < 2 && std::abs(followed_.slope()) < 0.5 / 60;
        bool const with_food = dish_in_at_ && *dish_in_at_ - opening_.since() < std::chrono::minutes(5) &&
                               opening_.since() - *dish_in_at_ < std::chrono::minutes(5);
        if (touches_ || !flat || !with_food) return;
        touches_ = true;
        out.events.push_back({now.now,
                              "note",
                              {SubjectKind::vessel, now.number},
                              now.vessel->name + " fell by " + words_.by(opening_.depth()) +
                                  " about when its dish was begun, and stands still at " + words_.at(level) +
                                  ": its probe may touch the food.",
                              {}});
    }

    Truth judge(VesselSituation const& now, Finding& finding, double room) {
        bool const watched = (now.band || now.dish_inside) && !cooling_down(now);
        if (!watched) {
            lost_ = false;
            return Truth::absent;
        }
        double const level = now.medium->level;
        bool const known = followed_.settled(now.now, std::chrono::seconds(45));
        // Well inside its band and steady: what it was before, it need not come back to.
        bool const holds =
            now.band && known && followed_.slope() > -0.05 / 60 &&
            level > now.band->low.celsius + 0.15 * (now.band->high.celsius - now.band->low.celsius);
        if (holds && opening_.state() == Opening::State::stuck) opening_.forget();
        bool const stuck = opening_.state() == Opening::State::stuck;
        if (!lost_ && !now.medium->doubtful) {
            if (stuck) {
                lost_ = true;
                reference_ = opening_.before();
            } else if (opening_.state() == Opening::State::none) {
                lost_ = falls(now, level, room);
            }
        } else if (lost_) {
            // Over when it is back inside its band; without one, when half of what it lost is back. Coming
            // back is not there yet: clearing earlier would tell the same loss again as "below its band".
            lowest_ = std::min(lowest_, level);
            double const regained = (level - lowest_) / std::max(reference_ - lowest_, 1.0);
            if (now.band ? holds : known && !stuck && regained > 0.5) {
                lost_ = false;
                if (!stuck) element_.came_back(now.now, lowest_, reference_);
            }
        }
        if (!lost_) {
            lowest_ = level;
            return Truth::absent;
        }
        finding.value = level;
        if (touches_ && now.now - opening_.since() < touching_at_most) finding.priority = Priority::low;
        if (is_back(now, level)) {
            finding.text = now.vessel->name + " is at " + words_.at(level) +
                           (now.band ? ", in its band again" : ", nearly where it was before") +
                           ". It is over if it stays so.";
            return Truth::present;
        }
        double const slope = followed_.slope();
        finding.text =
            now.vessel->name + " is at " + words_.at(level) + ", " + words_.by(reference_ - level) +
            " lower than before" +
            (known ? ", " + words_.moving(slope) + why_it_fell(slope, stuck) : ". Look at " + source() + ".");
        return Truth::present;
    }

    bool is_back(VesselSituation const& now, double level) const {
        if (now.band) return lowest_ < now.band->low.celsius && level >= now.band->low.celsius;
        return lowest_ < level && reference_ - level < 0.5 * (reference_ - lowest_);
    }

    // What it looks like, and where to look; on its way back nothing is to be done.
    std::string why_it_fell(double slope, bool stuck) const {
        if (slope > back_slope) return ": it is coming back.";
        if (touches_)
            return ", and stands still since about when its dish was begun. Look whether its probe touches "
                   "the "
                   "food, then at the door.";
        if (stuck) return ", and does not come back. Look at the door, then at " + source() + ".";
        if (slope > -back_slope) return ", and does not come back. Look at " + source() + ".";
        return kind_ == VesselKind::smoker
                   ? ", as if the fire were out or at its end. Look at the fire and its fuel."
                   : ", as if the heat were off. Look at " + source() + ".";
    }
    std::string source() const {
        return kind_ == VesselKind::smoker ? "the fire"
               : holds_liquid(kind_)       ? "the flame and the gas"
                                           : "the heat";
    }

    bool falls(VesselSituation const& now, double level, double room) {
        if (++seconds_ % looked_every_s != 0) return false;  // it looks far back, and minutes are enough
        // Something cold has just gone into the pot: what it costs is not the flame's doing.
        bool const liquid = holds_liquid(kind_);
        if (liquid && now.band_silenced) return false;
        // In the upper half of its band it was only turned down.
        if (now.band && level > 0.5 * (now.band->low.celsius + now.band->high.celsius)) return false;
        // The steady past: half an hour back at most, and before the fall began. Chambers settle after a
        // door.
        auto const then = past_.mean(900, 600).value_or(past_.mean(600, 360).value_or(level));
        auto const high = std::min(then, past_.mean(420, 300).value_or(then) + 1.0);
        double const fallen = high - level;
        if (fallen < std::max(fall_.least_k, fall_.least_share * (high - room))) return false;
        if (opening_.lately(now.now, std::chrono::minutes(8))) return false;
        // A probe that was moved within that time tells of two places.
        if (!followed_.settled(now.now, std::chrono::seconds(fall_.looked_at_s))) return false;
        auto const a = past_.mean(fall_.looked_at_s + 10, fall_.looked_at_s - 10);
        auto const b = past_.mean(fall_.looked_at_s / 2 + 10, fall_.looked_at_s / 2 - 10);
        auto const c = past_.mean(10, 0);
        if (!a || !b || !c) return false;
        double const half = fall_.looked_at_s / 2.0;
        if ((*b - *a) / half > fall_.slope || (*c - *b) / half > fall_.slope) return false;
        // Half of it within half a minute: something cold went in.
        for (int s = 0; s < 420; s += 10) {
            auto const later = past_.mean(s + 10, s), sooner = past_.mean(s + 40, s + 30);
            if (later && sooner && *sooner - *later > 0.5 * fallen) return false;
        }
        // An element that switches itself off and on again costs as much each time.
        if (element_.usual(now.now, now.medium->cycle, level)) return false;
        // So far before it was told: no pot does that, a probe beside it does.
        double const from = past_.highest(900, 0).value_or(high);
        if (liquid && from - level > most_unseen_k) return false;
        reference_ = high;
        return true;
    }

    Words words_;
    VesselKind kind_;
    Fall fall_;
    Opening opening_;
    FoodAdded food_;
    Element element_;
    std::optional<Instant> dish_in_at_, stepped_;
    std::optional<Instant> recalled_at_;  // the past was read back, and ends there
    bool dish_inside_ = false;
    bool touches_ = false;  // the probe stands against the food, as it seems
    Past<250> recent_;
    Past<960> past_;
    Followed followed_{1e-8};
    int seconds_ = 0;
    bool lost_ = false;
    double reference_ = 0, lowest_ = 0;
};

std::unique_ptr<VesselWatch> make(Settings const& settings, int number) {
    auto const& vessel = settings.vessels[static_cast<std::size_t>(number)];
    if (vessel.kind == VesselKind::room || vessel.medium < 0) return nullptr;
    return std::make_unique<Heat>(settings, vessel.kind);
}

}  // namespace

extern WatchInfo const heat_watch;
WatchInfo const heat_watch{.name = "heat", .alarms = types, .for_vessel = &make};

}  // namespace ingle
