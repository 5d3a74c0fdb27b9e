// The page of `ingle now`: what needs the cook first, a line for each vessel and dish, and no more than fits.
#include "tools/cli/live/now_text.hpp"

#include <sstream>

#include "daemon/model/view.hpp"
#include "tests/support/catch.hpp"

using namespace ingle;
using cli::Json;

namespace {

std::vector<std::string> lines_of(std::string const& text) {
    std::vector<std::string> lines;
    std::istringstream in(text);
    for (std::string line; std::getline(in, line);) lines.push_back(line);
    return lines;
}

Json alarm(int id, char const* priority, char const* state, char const* name) {
    return {{"id", id},
            {"priority", priority},
            {"state", state},
            {"alarm", name},
            {"subject", "stockpot"},
            {"age_s", 60},
            {"active", true},
            {"text", "stockpot is at 192.0 degF."}};
}

Json vessel(char const* name) {
    return {{"name", name},
            {"probe", "p"},
            {"celsius", 85.25},
            {"age_s", 0.0},
            {"phase", "in band"},
            {"slope_k_per_min", 0.1},
            {"band", {{"low_c", 82.2222}, {"high_c", 87.7778}}}};
}

Json verdict(char const* rule, char const* answer) {
    return {{"rule", rule},
            {"answer", answer},
            {"text", "What was seen, in a sentence."},
            {"source", "a source"}};
}

Json dish(char const* name) {
    return {{"name", name},
            {"vessel", "stockpot"},
            {"begun", true},
            {"stage", "poach"},
            {"stage_left_s", 4800},
            {"stage_clock", "counts"},
            {"target_c", 73.8889},
            {"core", {{"probe", "core"}, {"celsius", 66.9}, {"age_s", 1.0}}},
            {"forecast",
             {{"what", "core-target"}, {"eta_s", 5400}, {"low_s", 4500}, {"high_s", 6600}, {"age_s", 0}}},
            {"caution", food_safety_caution},
            {"verdicts",
             {verdict("in short", "unknown"), verdict("cooling", "unknown"), verdict("danger-zone", "ok")}}};
}

Json supper() {
    return {{"kitchen", "village hall"},
            {"units", "degF"},
            {"at", "2026-11-26T14:00:00.000Z"},
            {"daemon", {{"recording", true}}},
            {"vessels", {vessel("stockpot"), vessel("smoker"), vessel("oven"), vessel("fridge")}},
            {"dishes", {dish("goose-roll"), dish("boar-shoulder"), dish("quince-tart"), dish("trout")}}};
}

}  // namespace

TEST_CASE("four vessels, four dishes and an alarm fit a terminal of 24 lines and 80 columns") {
    auto now = supper();
    now["alarms"] = Json::array({alarm(3, "high", "unacknowledged", "above-band")});
    cli::Terminal terminal;
    terminal.width = 80, terminal.height = 24;
    auto const lines = lines_of(cli::now_text(now, 0, terminal));
    CHECK(lines.size() < 24);
    for (auto const& line : lines) CHECK(cli::width_of(line) <= 80);
    CHECK_THAT(lines[1], INGLE_CONTAINS("above-band"));
    CHECK_THAT(lines[lines.size() - 2] + " " + lines.back(), INGLE_CONTAINS("ingle now DISH"));
}

TEST_CASE("on 60 columns lines are broken, and nothing of them is lost") {
    cli::Terminal terminal;
    terminal.width = 60;
    auto const text = cli::now_text(supper(), 0, terminal);
    for (auto const& line : lines_of(text)) {
        INFO(line);
        CHECK(cli::width_of(line) <= 60);
    }
    CHECK_THAT(text, INGLE_CONTAINS("180 to 190 degF, +0.2 degF/min"));
}

TEST_CASE("what is longer than the terminal is cut at its end, and says so") {
    auto now = supper();
    for (int i = 0; i < 20; ++i) now["alarms"].push_back(alarm(i, "low", "acknowledged", "below-band"));
    now["alarms"].push_back(alarm(99, "high", "unacknowledged", "boil-over-risk"));
    cli::Terminal terminal;
    terminal.width = 80, terminal.height = 24;
    auto const lines = lines_of(cli::now_text(now, 0, terminal));
    CHECK(lines.size() == 23);
    CHECK_THAT(lines[0], INGLE_CONTAINS("village hall"));
    CHECK_THAT(lines[1], INGLE_CONTAINS("boil-over-risk"));  // what needs the cook comes first
    CHECK_THAT(lines.back(), INGLE_CONTAINS("lines more"));
    terminal.height = 0;  // into a file or a pipe: all of it
    CHECK(lines_of(cli::now_text(now, 0, terminal)).size() > 40);
}

TEST_CASE("of the food's rules the page has what is wrong or reached; the dish's own page has all") {
    auto now = supper();
    auto& verdicts = now["dishes"][0]["verdicts"];
    verdicts.push_back(verdict("core-target", "met"));
    verdicts.push_back(verdict("reheating", "missed"));
    verdicts.push_back(verdict("lethality", "not reached so far"));
    auto const page = cli::now_text(now, 0, {});
    CHECK_THAT(page, INGLE_CONTAINS("reheating: missed. What was seen"));
    CHECK_THAT(page, INGLE_CONTAINS("core-target: met"));
    CHECK(page.find("cooling:") == std::string::npos);
    CHECK(page.find("lethality") == std::string::npos);
    auto const dish = cli::dish_page(now, now["dishes"][0], {});
    for (auto const* rule :
         {"in short: unknown", "cooling: unknown", "reheating: missed", "lethality: not reached"})
        CHECK_THAT(dish, INGLE_CONTAINS(rule));
    CHECK_THAT(dish, INGLE_CONTAINS("[a source]"));
}

TEST_CASE("a forecast that is far off is told by the clock, a near one by the minutes") {
    auto now = supper();
    auto const far = cli::now_text(now, 0, {});
    CHECK_THAT(far, INGLE_CONTAINS("its core is there about "));
    CHECK_THAT(far, INGLE_CONTAINS("in 90 min"));
    now["dishes"][0]["forecast"]["eta_s"] = 600;
    CHECK_THAT(cli::now_text(now, 0, {}), INGLE_CONTAINS("its core is there in about 10 min"));
    now["at"] = nullptr;  // the clock is not known: no time of day is
    now["dishes"][0]["forecast"]["eta_s"] = 5400;
    CHECK_THAT(cli::now_text(now, 0, {}), INGLE_CONTAINS("its core is there in about 90 min"));
}

TEST_CASE("with many alarms sentences give way before vessels and dishes do") {
    auto now = supper();
    for (int i = 1; i < 6; ++i)
        now["alarms"].push_back(alarm(i, "medium", "unacknowledged", "late-for-serving"));
    for (int i = 6; i < 9; ++i) {
        now["alarms"].push_back(alarm(i, "low", "suppressed-by-design", "leaving-band"));
        now["alarms"].back()["muted_by"] = "above-band";
    }
    cli::Terminal terminal;
    terminal.width = 80, terminal.height = 24;
    auto const text = cli::now_text(now, 0, terminal);
    CHECK(lines_of(text).size() < 24);
    for (auto const* name : {"fridge", "trout: poach", "late-for-serving", "and 3 that these explain"})
        CHECK_THAT(text, INGLE_CONTAINS(name));
    CHECK(text.find("lines more") == std::string::npos);
}

TEST_CASE("what an event may explain is silent in words, what an alarm explains in one line") {
    auto now = supper();
    now["alarms"] = cli::Json::array();
    now["alarms"].push_back(alarm(1, "medium", "suppressed-by-design", "below-band"));
    now["alarms"].back()["muted_by"] = "topped-up";
    now["alarms"].back()["text"] = "Not told for now: it fell at once. Told within 17 min.";
    auto const text = cli::now_text(now, 0, {});
    CHECK_THAT(text, INGLE_CONTAINS("Told within 17 min."));
    CHECK_THAT(text, !INGLE_CONTAINS("topped-up"));
    now["alarms"].push_back(alarm(2, "high", "unacknowledged", "heat-lost"));
    now["alarms"].push_back(alarm(3, "medium", "suppressed-by-design", "leaving-band"));
    now["alarms"].back()["muted_by"] = "heat-lost";
    now["alarms"].back()["text"] = "Not told while heat-lost covers it.";
    auto const both = cli::now_text(now, 0, {});
    CHECK_THAT(both, INGLE_CONTAINS("muted by heat-lost"));
    CHECK_THAT(both, !INGLE_CONTAINS("covers it"));
    CHECK_THAT(both, INGLE_CONTAINS("Told within 17 min."));
}

TEST_CASE("a stage that time alone ends says until when; a reading of this moment has no age") {
    auto now = supper();
    auto& tart = now["dishes"][2];
    tart.erase("target_c"), tart.erase("core"), tart.erase("forecast");
    auto const text = cli::now_text(now, 0, {});
    CHECK_THAT(text, INGLE_CONTAINS("quince-tart: poach, 80 min left, until "));
    CHECK(text.find("s old") == std::string::npos);
    CHECK_THAT(cli::now_text(now, 30, {}), INGLE_CONTAINS("the last reading is 30 s old"));
}

TEST_CASE("what is new from one view to the next is a line each; a value that moves is none") {
    auto const before = supper();
    auto now = before;
    now["vessels"][0]["celsius"] = 86.0;
    CHECK(cli::now_changes(before, now).empty());
    now["vessels"][0]["phase"] = "above band";
    now["vessels"][1].erase("celsius");
    now["vessels"][1]["reason"] = "the wire is broken";
    now["alarms"] = Json::array({alarm(3, "high", "unacknowledged", "above-band")});
    now["dishes"][0]["stage"] = "rest";
    auto const said = cli::now_changes(before, now);
    for (auto const* line :
         {"stockpot: above band, 186.8 degF", "smoker: in band, no value: the wire is broken",
          "alarm #3: high above-band stockpot, not acknowledged: stockpot is at 192.0 degF.",
          "goose-roll: rest"})
        CHECK_THAT(said, INGLE_CONTAINS(line));
    CHECK(lines_of(said).size() == 4);
    CHECK_THAT(cli::now_changes(now, before), INGLE_CONTAINS("alarm #3: ended"));
}
