// Every remedy that is told, done in the files as a cook would do it, and planned again: what it was told for
// is in time, and nothing else is later than before. On random kitchens.
#include "daemon/schedule/remedies.hpp"

#include <algorithm>
#include <map>
#include <regex>

#include "config/load.hpp"
#include "config/wall_time.hpp"
#include "daemon/schedule/schedule.hpp"
#include "tests/support/catch.hpp"
#include "tests/support/long_form.hpp"
#include "tests/unit/daemon/schedule/random_kitchens.hpp"

using namespace ingle;
using namespace ingle::schedule;
using ingle::schedule::testing::Dice;

namespace {

constexpr Seconds a_minute = 60, an_hour = 3600, a_day = 86'400;

struct StageText {
    std::string name, does, vessel, until;
    std::optional<std::pair<int, int>> band;  // degC
    int hands = 0;                            // min
    std::string at_least, at_most;
};
struct DishText {
    std::string name;
    Seconds serve_at = 0;
    std::vector<StageText> stages;
    bool runs = false;
};
struct KitchenText {
    std::optional<std::pair<int, int>> awake;  // min of the day
    std::vector<std::pair<std::string, int>> vessels;
    std::vector<DishText> dishes;
    Seconds at = 0;
};

std::string two(int n) {
    return (n < 10 ? "0" : "") + std::to_string(n);
}
std::string clock(int minutes) {
    return two(minutes / 60) + ":" + two(minutes % 60);
}

std::string kitchen_file(KitchenText const& kitchen) {
    std::string text = "[kitchen]\nname = \"hall\"\nzone = \"UTC\"\n";
    if (kitchen.awake)
        text +=
            "awake = [\"" + clock(kitchen.awake->first) + "\", \"" + clock(kitchen.awake->second) + "\"]\n";
    text += "[[probe]]\nname = \"core\"\ndriver = \"simulated\"\n";
    for (auto const& [name, room] : kitchen.vessels)
        text += "[[vessel]]\nname = \"" + name + "\"\nkind = \"" + (name == "oven-2" ? "oven" : name) +
                "\"\nroom-for = " + std::to_string(room) + "\n" +
                (name == "fridge" ? "band = [\"1 degC\", \"5 degC\"]\n" : "");
    for (auto const& dish : kitchen.dishes) {
        auto const minutes = static_cast<int>(dish.serve_at % a_day / 60);
        text += "[[dish]]\nname = \"" + dish.name + "\"\nvessel = \"oven\"\nplan = \"of-" + dish.name +
                "\"\ncore = \"core\"\nfood = \"whole-meat\"\nshape = \"cylinder\"\nthickness = \"5 cm\"\n" +
                "serve-at = \"2026-11-" + std::to_string(26 + dish.serve_at / a_day) + "T" + clock(minutes) +
                ":00Z\"\n";
    }
    return text;
}

std::string plan_file(DishText const& dish) {
    std::string text = "name = \"of-" + dish.name + "\"\n";
    for (auto const& stage : dish.stages) {
        text += "[[stage]]\nname = \"" + stage.name + "\"\ndoes = \"" + stage.does + "\"\nvessel = \"" +
                stage.vessel + "\"\n";
        if (stage.band)
            text += "band = [\"" + std::to_string(stage.band->first) + " degC\", \"" +
                    std::to_string(stage.band->second) + " degC\"]\n";
        if (!stage.until.empty()) text += "until = { " + stage.until + " }\n";
        if (stage.hands > 0) text += "hands = \"" + std::to_string(stage.hands) + " min\"\n";
        if (!stage.at_least.empty()) text += "at-least = \"" + stage.at_least + "\"\n";
        if (!stage.at_most.empty()) text += "at-most = \"" + stage.at_most + "\"\n";
    }
    return text;
}

Seconds const first_day = std::get<WallMoment>(parse_wall_time("2026-11-26T00:00:00Z")).ms / 1000;

Schedule planned(KitchenText const& kitchen) {
    std::vector<ConfigError> errors;
    std::vector<PlanSettings> plans;
    for (auto const& dish : kitchen.dishes) {
        auto const file = plan_file(dish);
        INFO(file);
        plans.push_back(read_plan(file, dish.name + ".toml", errors));
    }
    auto const file = kitchen_file(kitchen);
    auto loaded = parse_kitchen(file, "k.toml", std::move(plans));
    for (auto const& error : loaded.errors) errors.push_back(error);
    std::string all = file;
    for (auto const& error : errors) all += "\n" + error.text();
    INFO(all);
    REQUIRE(errors.empty());
    std::vector<Running> running;
    for (std::size_t d = 0; d < kitchen.dishes.size(); ++d)
        if (kitchen.dishes[d].runs)
            running.push_back({static_cast<int>(d), 0, first_day + kitchen.at - 10 * a_minute});
    return make_schedule(
        {loaded.settings, TimeZone::named("UTC").value(), first_day + kitchen.at, std::move(running), {}});
}

StageText random_stage(Dice& dice, std::size_t place,
                       std::vector<std::pair<std::string, int>> const& vessels) {
    StageText stage;
    stage.name = "stage-" + std::to_string(place);
    stage.does = "cook",
    stage.vessel =
        vessels[static_cast<std::size_t>(dice.from(0, static_cast<int>(vessels.size()) - 2))].first;
    int const low = 150 + 10 * dice.from(0, 3);
    stage.band = std::pair(low, low + 10 + 10 * dice.from(0, 2));
    stage.until = "time = \"" + std::to_string(15 * dice.from(1, 8)) + " min\"";
    if (dice.one_in(5)) stage.until = "core = \"63 degC\"", stage.band = std::pair(100, 180);
    if (dice.one_in(2)) stage.hands = 5 * dice.from(1, 3);
    if (dice.one_in(4)) {
        stage.does = "rest", stage.vessel = "none", stage.band.reset();
        stage.until = "time = \"15 min\"";
    } else if (dice.one_in(5)) {
        stage.does = "chill", stage.vessel = "fridge", stage.band.reset();
        stage.until = "time = \"30 min\"", stage.at_most = "1 day";
    }
    return stage;
}

KitchenText random_text(std::uint32_t seed) {
    Dice dice(seed);
    KitchenText kitchen;
    kitchen.vessels.emplace_back("oven", dice.from(1, 2));
    if (dice.one_in(2)) kitchen.vessels.emplace_back("oven-2", 1);
    kitchen.vessels.emplace_back("smoker", 1);
    kitchen.vessels.emplace_back("fridge", 4);
    if (dice.one_in(2)) kitchen.awake = std::pair(60 * dice.from(6, 9), 60 * dice.from(18, 23));
    kitchen.at = dice.from(8, 19) * an_hour;
    int const dishes = dice.from(2, 4);
    for (int d = 0; d < dishes; ++d) {
        DishText dish;
        dish.name = std::string(1, static_cast<char>('a' + d)) + "-dish";
        dish.serve_at = dice.from(17, dice.one_in(3) ? 28 : 20) * an_hour + 15 * a_minute * dice.from(0, 3);
        auto const stages = static_cast<std::size_t>(dice.from(1, 3));
        for (std::size_t s = 0; s < stages; ++s)
            dish.stages.push_back(random_stage(dice, s, kitchen.vessels));
        if (dice.one_in(4)) dish.stages.push_back({"keep", "hot-hold", "none", "", {}, 0, "", "90 min"});
        dish.runs = d == 0 && dice.one_in(4);
        kitchen.dishes.push_back(std::move(dish));
    }
    return kitchen;
}

// What a cook does who reads it. "": it is not understood.
class Cook {
public:
    explicit Cook(KitchenText kitchen) : kitchen_(std::move(kitchen)) {}

    // What kind of thing was done.
    std::string done(std::string const& remedy) {
        std::smatch m;
        auto const is = [&](char const* pattern) {
            return std::regex_search(remedy, m, std::regex(pattern));
        };
        if (is("^serve (\\S+) at (.*), .* (later|earlier)$")) {
            dish(m[1]).serve_at = moment(m[2]);
            return "serve";
        }
        if (is("^serve each when it can be ready: (.*)$")) {
            std::string const list = m[1];
            std::regex const one("(\\S+) at ((?:[A-Z][a-z]+ )?\\d\\d:\\d\\d)");
            for (std::sregex_iterator it(list.begin(), list.end(), one), end; it != end; ++it)
                dish((*it)[1]).serve_at = moment((*it)[2]);
            return "serve each";
        }
        if (is("^keep (\\S+) near (\\d+) degC in stage (\\S+) of (\\S+), which its band allows")) {
            int const top = std::stoi(m[2]);
            stage(dish(m[4]), m[3]).band = std::pair(top - 1, top);
            return "hotter";
        }
        if (is("^put (\\S+) into (\\S+) for its stage (\\S+)$")) {
            stage(dish(m[1]), m[3]).vessel = m[2];
            return "put";
        }
        if (is("^have somebody else see to (\\S+) when its stage (\\S+) begins")) {
            stage(dish(m[1]), m[2]).hands = 0;
            return "helper";
        }
        if (is("^be there, or have somebody there, (.*) (longer in the evening|earlier in the morning)$")) {
            auto const minutes = static_cast<int>(length(m[1]) / 60);
            auto& awake = kitchen_.awake.value();
            if ((awake.second - awake.first + 1440) % 1440 + minutes >= 1440)
                kitchen_.awake.reset();
            else if (m[2] == "longer in the evening")
                awake.second = (awake.second + minutes) % 1440;
            else
                awake.first = (awake.first + 1440 - minutes) % 1440;
            return "longer day";
        }
        if (is("^begin (\\S+) earlier, at .*, and keep it hot for (.*), at \\d+ degC or above, until it is "
               "served$")) {
            dish(m[1]).stages.push_back(
                {"kept", "hot-hold", "none", "time = \"" + std::string(m[2]) + "\"", {}, 0, "", ""});
            return "keep hot";
        }
        if (is("^cook (\\S+) earlier, begun at .*, chill it in (\\S+) ")) {
            dish(m[1]).stages.push_back({"chilled", "chill", m[2], "", {}, 0, "6 h", "3 days"});
            return "serve cold";
        }
        return "";
    }
    KitchenText const& kitchen() const { return kitchen_; }

private:
    DishText& dish(std::string const& name) {
        return *std::ranges::find(kitchen_.dishes, name, &DishText::name);
    }
    static StageText& stage(DishText& dish, std::string const& name) {
        return *std::ranges::find(dish.stages, name, &StageText::name);
    }
    static Seconds length(std::string const& text) {
        return static_cast<Seconds>(std::get<Duration>(parse_duration(text)).seconds);
    }
    // "17:00" is today, "Fri 17:00" the first one from today on; the first day is a Thursday.
    Seconds moment(std::string text) const {
        static std::vector<std::string> const days{"Thu", "Fri", "Sat", "Sun", "Mon", "Tue", "Wed"};
        Seconds day = kitchen_.at / a_day;
        if (auto const space = text.find(' '); space != std::string::npos) {
            auto const named = std::ranges::find(days, text.substr(0, 3)) - days.begin();
            while (day % 7 != named) ++day;
            text = text.substr(text.rfind(' ') + 1);
        }
        return day * a_day + std::stoi(text.substr(0, 2)) * an_hour + std::stoi(text.substr(3)) * a_minute;
    }
    KitchenText kitchen_;
};

Seconds lateness(DishPlan const& dish) {
    return dish.ready_at && dish.serve_at ? std::max<Seconds>(0, *dish.ready_at - *dish.serve_at) : 0;
}

DishPlan const* plan_of(Schedule const& schedule, int dish) {
    auto const found = std::ranges::find(schedule.dishes, dish, &DishPlan::dish);
    return found == schedule.dishes.end() ? nullptr : &*found;
}

// What is wrong after the remedy; "": nothing.
std::string wrong_after(Schedule const& before, Schedule const& after, std::vector<int> const& dishes,
                        bool in_time) {
    for (auto const& was : before.dishes) {
        auto const* now = plan_of(after, was.dish);
        auto const name = "dish " + std::to_string(was.dish);
        if (!now) return name + " is not planned any more";
        bool const promised = std::ranges::count(dishes, was.dish) > 0;
        if (was.state != State::impossible && now->state == State::impossible) return name + " is impossible";
        if (promised && now->state == State::impossible) return name + " is impossible still";
        if (promised && in_time ? lateness(*now) > 0 : lateness(*now) > lateness(was) && !promised)
            return name + " is late by " + std::to_string(lateness(*now)) + " s";
    }
    return "";
}

}  // namespace

TEST_CASE("every remedy that is told holds when it is done and the whole kitchen is planned again") {
    std::map<std::string, int> done;
    for (std::uint32_t seed = 1; seed <= (test::long_form() ? 2000u : 60u); ++seed) {
        auto const kitchen = random_text(seed);
        INFO("seed " << seed << "\n" << kitchen_file(kitchen));
        auto const before = planned(kitchen);
        for (auto const& conflict : before.conflicts)
            for (auto const& remedy : conflict.remedies) {
                if (!conflict.tried) continue;
                INFO(remedy);
                Cook cook(kitchen);
                auto const kind = cook.done(remedy);
                REQUIRE(kind != "");
                ++done[kind];
                auto const in_time = remedy.find("though not in time") == std::string::npos;
                CHECK(wrong_after(before, planned(cook.kitchen()), conflict.dishes, in_time) == "");
            }
    }
    for (char const* kind :
         {"serve", "serve each", "put", "helper", "longer day", "keep hot", "serve cold"}) {
        INFO(kind);
        CHECK(done[kind] >= 1);
    }
}

TEST_CASE("what is told to make a dish surer makes it so, and begins it as much earlier as it says") {
    int told = 0;
    for (std::uint32_t seed = 1; seed <= 25; ++seed) {
        auto kitchen = random_text(seed);
        auto& first = kitchen.dishes[0];
        first.runs = false, first.stages.resize(1), first.stages[0].until = "core = \"63 degC\"";
        first.stages[0].does = "cook", first.stages[0].vessel = "oven";
        first.stages[0].band = std::pair(150, 160);
        INFO("seed " << seed << "\n" << kitchen_file(kitchen));
        auto const before = planned(kitchen);
        auto const& dish = *plan_of(before, 0);
        if (dish.advice.empty()) continue;
        std::smatch m;
        auto const& advice = dish.advice[0];
        REQUIRE(std::regex_search(advice, m, std::regex("begin a-dish (.*) earlier: ")));
        auto const earlier = std::get<Duration>(parse_duration(m[1].str())).seconds;
        first.stages.push_back({"kept", "hot-hold", "none", "", {}, 0, "", "2 h"});
        auto const after = planned(kitchen);
        INFO(advice);
        CHECK(wrong_after(before, after, {0}, true) == "");
        CHECK(*plan_of(after, 0)->chance >= 0.9);
        CHECK(std::abs(static_cast<double>(dish.stages[0].begin - plan_of(after, 0)->stages[0].begin) -
                       earlier) < 60);
        ++told;
    }
    CHECK(told >= 3);
}

TEST_CASE("a dish whose vessel another one needs is not told a time at which it is late again") {
    KitchenText kitchen;
    kitchen.vessels = {{"oven", 1}, {"fridge", 4}};
    kitchen.at = 20 * an_hour;
    StageText bake{"bake", "cook", "oven", "time = \"45 min\"", std::pair(190, 210), 0, "", ""};
    StageText roast{"roast", "cook", "oven", "time = \"2 h\"", std::pair(150, 160), 0, "", ""};
    kitchen.dishes = {{"tart-a", 18 * an_hour, {bake}, false},
                      {"tart-b", 18 * an_hour, {bake}, false},
                      {"joint", 18 * an_hour, {roast}, false}};
    auto const before = planned(kitchen);
    REQUIRE(before.conflicts.size() == 3);
    for (auto const& conflict : before.conflicts)
        for (auto const& remedy : conflict.remedies) {
            INFO(remedy);
            Cook cook(kitchen);
            REQUIRE(cook.done(remedy) != "");
            CHECK(wrong_after(before, planned(cook.kitchen()), conflict.dishes, true) == "");
        }
    auto const& last = before.conflicts[0].remedies.back();
    CHECK_THAT(last, INGLE_CONTAINS("serve each when it can be ready: tart-a at 20:45, tart-b at 21:30"));
    CHECK_THAT(last, INGLE_CONTAINS(" and joint at 23:30"));
}
