// The life of a box in the core: simulated days with a cook a day, a pot that is forgotten and a fridge that
// fails, restarts with the clock known and unknown, edited plans, pulled probes, a clock that steps. A model
// knows the truth: the cook, the bands, the alarms, what was seen or silenced and the verdicts are the
// model's, or unknown. With INGLE_LONG=1: 200 days of each of two seeds.
#include <algorithm>
#include <cstdio>
#include <ctime>
#include <map>
#include <utility>

#include "tests/support/catch.hpp"
#include "tests/support/kitchen_run.hpp"
#include "tests/support/long_form.hpp"

using namespace ingle;
using namespace ingle::test;

namespace {

constexpr std::int64_t day_s = 86'400, hour_s = 3600, every_s = 10;
// Longer than any watch and any gap of this life takes, one after the other.
constexpr std::int64_t told_within_s = 45 * 60, over_within_s = 75 * 60;
enum : int { pot, fridge };
enum : int { pot_probe, fridge_probe, core_probe };

Settings kitchen_of_a_box(std::string first_stage) {
    auto settings = one_vessel(VesselKind::pot, {});
    add_vessel(settings, "fridge", VesselKind::fridge, add_probe(settings, "f", every_s), {{0, 5}});
    add_probe(settings, "core", every_s);
    settings.probes[pot_probe].every = Duration{1.0 * every_s};
    add_dish(settings, "roll", pot, core_probe, "ground-poultry").plan = "poaching";
    PlanSettings plan;
    plan.name = "poaching";
    plan.stages.resize(2);
    plan.stages[0].name = std::move(first_stage);
    plan.stages[0].band = Band{{60}, {70}};
    plan.stages[1].name = "rest";
    plan.stage_vessels.resize(2);
    settings.plans.push_back(plan);
    return settings;
}

struct Day {
    std::int64_t begin = 0, end = 0;          // of the cook
    std::int64_t hot_from = 0, hot_to = 0;    // the pot is forgotten
    std::int64_t warm_from = 0, warm_to = 0;  // the fridge fails
    bool within(std::int64_t from, std::int64_t to, std::int64_t s) const { return from < s && s < to; }
    double pot_c(std::int64_t s) const {
        if (within(hot_from, hot_to, s)) return 80;
        if (s < begin || s > end) return 20;
        return std::min(65.0, 20 + static_cast<double>(s - begin) / 40);
    }
    double fridge_c(std::int64_t s) const { return within(warm_from, warm_to, s) ? 12 : 3; }
};

class Box {
public:
    explicit Box(std::uint64_t seed) : dice_(seed), kitchen_(settings_, now()) { clock(true); }

    void live_a_day() {
        plan_the_day();
        bool ended = false;
        for (s_ = 0; s_ < day_s; s_ += every_s) {
            if (s_ >= day_.begin && !begun_ && !ended) order(Begin{0}), ++cook_, begun_ = true, stage_ = 0;
            if (s_ >= day_.end && begun_) order(End{0}), begun_ = false, ended = true;
            if (s_ >= day_.end - hour_s / 2 && begun_ && stage_ == 0) order(Next{0}), stage_ = 1;
            feed(s_);
            kitchen_.advance(now(), effects_);
            if (s_ % 60 == 0) check(s_);
            effects_.clear();
            if (s_ % 600 == 0) something_happens();
        }
        ++day_.number;
    }

    int restarts = 0, alarms_true = 0, kept = 0;
    std::size_t memory_keys() const { return kitchen_.remember().all().size(); }

private:
    struct Numbered : Day {
        std::int64_t number = 0;
    };
    std::int64_t at() const { return day_.number * day_s + s_; }
    Instant now() const { return Instant(Span(5'000'000 + at() * 1000)); }
    std::int64_t some(std::int64_t low, std::int64_t high) {
        return low + static_cast<std::int64_t>(dice_.uniform() * static_cast<double>(high - low));
    }
    bool chance(double p) { return dice_.uniform() < p; }

    void plan_the_day() {
        auto const number = day_.number;
        day_ = {};
        day_.number = number;
        day_.begin = 8 * hour_s + some(0, 360) * every_s;
        day_.end = day_.begin + 6 * hour_s;
        if (chance(0.5)) day_.hot_from = day_.begin + 2 * hour_s, day_.hot_to = day_.hot_from + 2 * hour_s;
        if (chance(0.4)) day_.warm_from = 17 * hour_s, day_.warm_to = 21 * hour_s;
    }
    void feed(std::int64_t s) {
        auto const give = [&](int probe, double celsius) {
            if (at() < pulled_until_[probe]) return;
            kitchen_.take(probe, Reading::good(now(), std::round((celsius + 0.1 * dice_.normal()) * 16) / 16),
                          effects_);
        };
        give(pot_probe, day_.pot_c(s));
        give(fridge_probe, day_.fridge_c(s));
        give(core_probe, begun_ ? 40 : 20);
    }
    void order(Command const& command) {
        kitchen_.command(now(), command, effects_);
        for (auto const& effect : effects_)
            if (auto const* event = std::get_if<Event>(&effect)) CHECK(event->name != "refused");
    }
    void clock(bool known) { kitchen_.command(now(), ClockAnchor{offset_ms_, known, known}, effects_); }

    void something_happens() {
        switch (some(0, 24)) {
            case 0:
                return restart(Span(0), true);  // a reload
            case 1:
                return restart(Span(some(1, 30) * every_s * 1000), true);
            case 2:
                return restart(Span(some(1, 30) * every_s * 1000), false);
            case 3:  // the plan is edited, and it is read again
                settings_ = kitchen_of_a_box(chance(0.5) ? "poach" : "simmer");
                return restart(Span(0), true);
            case 4:
                pulled_until_[static_cast<std::size_t>(some(0, 3))] = at() + some(1, 600);
                return;
            case 5:
                offset_ms_ += some(-7200, 7200) * 1000;
                return clock(true);
            case 6:
                return order(Note{{}, "a word"});
            case 7:
            case 8:
                return see_or_silence();
            default:
                return;
        }
    }
    void see_or_silence() {
        for (auto const& alarm : kitchen_.view().alarms) {
            if (!alarm.active) continue;
            if (chance(0.5))
                order(Acknowledge{alarm.id, "cook"});
            else
                order(Shelve{alarm.id, Span(3'600'000), "cook"});
            return;
        }
    }

    // Off and on again: nothing is less than it was.
    void restart(Span off, bool how_long_is_known) {
        ++restarts;
        auto const before = kitchen_.view();
        auto const memory = kitchen_.remember();
        auto const since = now();
        s_ += off.count() / 1000;
        kitchen_ = Kitchen(settings_, now());
        kitchen_.recall(memory, how_long_is_known ? std::optional(since) : std::nullopt, effects_);
        clock(how_long_is_known);
        auto const after = kitchen_.view();
        INFO("day " << day_.number << ", " << s_ << " s, after a restart");
        REQUIRE(after.dishes[0].begun == before.dishes[0].begun);
        CHECK(after.vessels[pot].band == before.vessels[pot].band);
        for (auto const& alarm : before.alarms) {
            auto const same = std::ranges::find(after.alarms, alarm.id, &Alarm::id);
            if (same == after.alarms.end()) {
                INFO(alarm.type->name << " " << alarm.id);
                CHECK(alarm.id == -1);
                continue;
            }
            ++kept;
            INFO(alarm.type->name << " " << alarm.id << ", shelved " << alarm.shelved_until.has_value());
            CHECK(same->type->name == alarm.type->name);
            CHECK(same->shelved_until.has_value() ==
                  (alarm.shelved_until && (*alarm.shelved_until > now() || !how_long_is_known)));
        }
        if (!how_long_is_known && chance(0.7)) clock(true);
    }

    void check(std::int64_t s) {
        auto const view = kitchen_.view();
        auto const& dish = view.dishes[0];
        INFO("day " << day_.number << ", " << s << " s");
        REQUIRE(dish.begun == begun_);
        if (begun_) {
            CHECK(dish.cook == cook_);
            CHECK((stage_ == 0 ? dish.stage == "poach" || dish.stage == "simmer" : dish.stage == "rest"));
            if (stage_ == 0) CHECK(view.vessels[pot].band == std::optional(Band{{60}, {70}}));
            for (auto const& verdict : dish.verdicts)  // it never was
                if (verdict.rule == "core-target" || verdict.rule == "lethality") {
                    CHECK(verdict.answer != "met");
                    CHECK(verdict.answer != "reached");
                }
        }
        CHECK(view.vessels[fridge].band == std::optional(Band{{0}, {5}}));
        auto const standing = [&](int vessel) {
            return std::ranges::any_of(view.alarms, [&](Alarm const& alarm) {
                return alarm.active && alarm.type->name == "above-band" &&
                       alarm.subject == Subject{SubjectKind::vessel, vessel};
            });
        };
        struct Truth {
            int vessel;
            std::int64_t from, to;
        };
        for (auto const& truth :
             {Truth{pot, day_.hot_from, day_.hot_to}, Truth{fridge, day_.warm_from, day_.warm_to}}) {
            CAPTURE(truth.vessel);
            if (truth.from && s > truth.from + told_within_s && s < truth.to) {
                CHECK(standing(truth.vessel));
                ++alarms_true;
            }
            if (s < truth.from || s > truth.to + over_within_s) CHECK_FALSE(standing(truth.vessel));
        }
        for (auto const& alarm : view.alarms) {
            auto const named = std::pair(std::string(alarm.type->name), alarm.subject);
            auto const [known, is_new] = numbers_.emplace(alarm.id, named);
            CHECK(known->second == named);  // a number is one alarm's, for ever
        }
    }

    Dice dice_;
    std::int64_t s_ = 0, offset_ms_ = 1'790'000'000'000, cook_ = 0;
    std::int64_t pulled_until_[3] = {};
    bool begun_ = false;
    int stage_ = 0;
    Settings settings_ = kitchen_of_a_box("poach");
    Numbered day_;
    Kitchen kitchen_;
    Effects effects_;
    std::map<std::int64_t, std::pair<std::string, Subject>> numbers_;
};

}  // namespace

TEST_CASE("a box lives for days: after each trouble it is as the truth is, or says unknown") {
    for (std::uint64_t seed = 1; seed <= 2; ++seed) {
        CAPTURE(seed);
        Box box(seed);
        auto const began = std::clock();
        int const days = long_form() ? 200 : 2;
        std::size_t first_keys = 0;
        for (int day = 0; day < days; ++day) {
            box.live_a_day();
            if (day == 0) first_keys = box.memory_keys();
        }
        CHECK(box.memory_keys() < 2 * first_keys);  // what it keeps does not grow with its age
        CHECK(box.restarts > 3 * days);
        CHECK(box.alarms_true > 10 * days);
        CHECK(box.kept > 0);
        std::printf(
            "  seed %d: %d days, %d restarts, %d times that an alarm had to stand, %d alarms kept over a "
            "restart, %.0f s\n",
            static_cast<int>(seed), days, box.restarts, box.alarms_true, box.kept,
            static_cast<double>(std::clock() - began) / CLOCKS_PER_SEC);
    }
}
