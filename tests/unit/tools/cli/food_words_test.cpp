// The caution beside every verdict, the refusal of curing salts, and what `ingle explain food` prints.
#include <unistd.h>

#include <filesystem>
#include <fstream>
#include <nlohmann/json.hpp>
#include <set>
#include <sstream>

#include "daemon/food/hazards.hpp"
#include "daemon/food/sources.hpp"
#include "daemon/model/view.hpp"
#include "tests/support/catch.hpp"
#include "tools/cli/live/now_text.hpp"
#include "tools/cli/program/command.hpp"

using namespace ingle;

namespace {

struct Result {
    int status = -1;
    std::string out;
};

Result run(std::vector<std::string> words) {
    words.insert(words.begin(), {"ingle", "--state", "/nowhere"});
    std::vector<char*> argv;
    for (auto& word : words) argv.push_back(word.data());
    std::ostringstream out;
    cli::Context context{"/nowhere", out};
    int const status = cli::run_program(static_cast<int>(argv.size()), argv.data(), context);
    return {status, out.str()};
}

nlohmann::json json_of(std::vector<std::string> words) {
    words.emplace_back("--json");
    return nlohmann::json::parse(run(std::move(words)).out);
}

// Lines are broken for the terminal.
std::string unbroken(std::string const& text) {
    std::string flat;
    for (char const c : text) {
        bool const blank = c == '\n' || c == ' ';
        if (!blank)
            flat += c;
        else if (!flat.empty() && flat.back() != ' ')
            flat += ' ';
    }
    return flat;
}

class Files {
public:
    Files() : path_(std::filesystem::temp_directory_path() / ("ingle-words-" + std::to_string(getpid()))) {
        std::filesystem::create_directories(path_);
    }
    ~Files() { std::filesystem::remove_all(path_); }
    std::string write(std::string const& name, std::string const& text) const {
        std::ofstream(path_ / name) << text;
        return (path_ / name).string();
    }

private:
    std::filesystem::path path_;
};

std::string const caution(food_safety_caution);

}  // namespace

TEST_CASE("the caution stands beside the verdicts of the calculators, in text and in JSON") {
    Files const files;
    std::string rows = "time,core [degC]\n";
    for (int minute = 0; minute <= 60; ++minute)
        rows += std::to_string(60 * minute) + "," + std::to_string(4 + minute) + "\n";
    auto const file = files.write("core.csv", rows);
    std::vector<std::vector<std::string>> const calculators{
        {"calc", "lethality", file, "--probe", "core", "--food", "ground-meat"},
        {"calc", "cooling", file, "--probe", "core"},
        {"calc", "cook-time", "--food", "ground-meat", "--shape", "cylinder", "--thickness", "9 cm",
         "--start", "40 degF", "--medium", "185 degF"}};
    for (auto const& words : calculators) {
        INFO(words[1]);
        CHECK_THAT(run(words).out, INGLE_CONTAINS(caution));
        CHECK(json_of(words)["caution"] == caution);
    }
}

TEST_CASE("the caution stands beside what a replay says of a dish, in text and in JSON") {
    Files const files;
    auto const recording = files.write("dish.csv", "time,core [degC]\n0,4\n30,5\n60,6\n");
    auto const kitchen = files.write("kitchen.toml", R"(
[kitchen]
name = "village hall"
units = "degF"
[[probe]]
name = "core"
driver = "recorded"
file = "dish.csv"
[[vessel]]
name = "oven"
kind = "oven"
[[dish]]
name = "roll"
vessel = "oven"
core = "core"
food = "ground-meat"
)");
    std::vector<std::string> const with{"replay", recording, "--kitchen", kitchen, "--begin", "roll"},
        without{"replay", recording, "--kitchen", kitchen};
    CHECK_THAT(unbroken(run(with).out), INGLE_CONTAINS(caution));
    CHECK(run(without).out.find("not a permit") == std::string::npos);
    auto json = with;
    json.emplace_back("--json");
    std::istringstream lines(run(json).out);
    nlohmann::json last;
    for (std::string line; std::getline(lines, line);) last = nlohmann::json::parse(line);
    CHECK(last["kind"] == "summary");
    CHECK(last["caution"] == caution);
}

TEST_CASE("the caution stands once under the dishes of `now`") {
    nlohmann::json const dish{
        {"name", "roll"},
        {"begun", true},
        {"caution", caution},
        {"verdicts", {{{"rule", "cooling"}, {"answer", "met"}, {"text", "t."}, {"source", "s"}}}}};
    nlohmann::json now{{"kitchen", "hall"}, {"units", "degF"}, {"dishes", {dish, dish}}};
    auto const text = unbroken(cli::now_text(now, 0, {}));
    auto const first = text.find(caution);
    REQUIRE(first != std::string::npos);
    CHECK(text.find(caution, first + 1) == std::string::npos);
    CHECK_THAT(unbroken(cli::dish_page(now, now["dishes"][0], {})), INGLE_CONTAINS(caution));
    for (auto& one : now["dishes"]) one["caution"] = nullptr;
    CHECK(cli::now_text(now, 0, {}).find("licence") == std::string::npos);
}

TEST_CASE("a brine is not reckoned for curing salts") {
    auto const plain = run({"calc", "brine", "--water", "1 gal", "--salt", "1 cup"});
    CHECK(plain.status == 0);
    CHECK_THAT(plain.out, INGLE_CONTAINS(std::string(curing_salt_caution)));
    CHECK(json_of({"calc", "brine", "--water", "1 gal", "--salt", "1 cup"})["caution"] ==
          std::string(curing_salt_caution));
    for (auto const* salt : {"2 tbsp curing-salt", "1 tsp pink salt", "30 g of nitrite"})
        CHECK(run({"calc", "brine", "--water", "1 gal", "--salt", salt}).status == 2);
}

TEST_CASE("explain food lists every class, hazard and source; of a class only its own") {
    auto const all = json_of({"explain", "food"});
    CHECK(all["caution"] == caution);
    CHECK(all["classes"].size() == food_classes().size());
    CHECK(all["hazards"].size() == hazards().size());
    CHECK(all["sources"].size() == food_sources().size());
    for (auto const& rule : all["rules"])
        CHECK(std::ranges::find(all["rule_sources"], rule["source"]) != all["rule_sources"].end());
    auto const text = unbroken(run({"explain", "food"}).out);
    CHECK_THAT(text, INGLE_CONTAINS(caution));
    for (auto const& source : food_sources()) CHECK_THAT(text, INGLE_CONTAINS(std::string(source.title)));
    for (auto const& hazard : hazards()) CHECK_THAT(text, INGLE_CONTAINS(std::string(hazard.id)));

    auto const venison = json_of({"explain", "food", "venison"});
    CHECK(venison["classes"].size() == 1);
    CHECK(venison["classes"][0]["targets"][0]["source"] == food_class("venison")->targets.front().source);
    std::set<std::string> ids, cited, listed;
    for (auto const& hazard : venison["hazards"]) {
        ids.insert(hazard["hazard"]);
        for (auto const& source : hazard["sources"]) cited.insert(source);
    }
    CHECK(ids.contains("chronic-wasting-disease"));
    CHECK_FALSE(ids.contains("fish-parasites"));
    for (auto const& source : venison["sources"]) listed.insert(source["source"]);
    CHECK(listed == cited);

    CHECK_THAT(unbroken(run({"explain", "food", "fish", "--units", "degC"}).out), INGLE_CONTAINS("-20 degC"));
    CHECK(run({"explain", "food", "dragon"}).status == 2);
    CHECK(run({"explain", "food", "--units", "kelvin"}).status == 2);
    CHECK(run({"explain"}).status == 2);
}

TEST_CASE("explain says what a plan means, and which keys drivers and channels have") {
    auto const plan = unbroken(run({"explain", "plan", TEST_SOURCE "/config/plans/poach.toml"}).out);
    CHECK_THAT(plan,
               INGLE_CONTAINS("1. poach: cook in the dish's vessel at 180 to 190 degF, until the core is "
                              "at 165.0 degF and 2 h have passed in the band. You are told when it "
                              "takes longer than 4 h."));
    CHECK_THAT(
        plan, INGLE_CONTAINS("2. rest: rest in the dish's vessel, until 20 min have passed from its start."));
    CHECK_THAT(
        unbroken(run({"explain", "plan", TEST_SOURCE "/config/plans/poach.toml", "--units", "degC"}).out),
        INGLE_CONTAINS("82.2 to 87.8 degC"));
    CHECK(run({"explain", "plan", "no-such-plan"}).status == 2);
    CHECK_THAT(run({"explain", "driver"}).out, INGLE_CONTAINS("max31855: "));
    CHECK_THAT(run({"explain", "driver", "serial-line"}).out, INGLE_CONTAINS("port (required): "));
    CHECK(run({"explain", "driver", "telepathy"}).status == 2);
    CHECK_THAT(run({"explain", "channel", "webhook"}).out,
               INGLE_CONTAINS("url") && INGLE_CONTAINS("quiet: ") && INGLE_CONTAINS("most-per-hour: "));
}

TEST_CASE("check takes a plan alone, and names its mistakes as it does a kitchen's") {
    Files const files;
    auto const good = run({"check", TEST_SOURCE "/config/plans/smoke.toml"});
    CHECK(good.status == 0);
    CHECK_THAT(good.out, INGLE_CONTAINS("plan smoke\n") && INGLE_CONTAINS("no mistakes"));
    auto const bad =
        run({"check", files.write("p.toml", "name = \"p\"\n[[stage]]\nname = \"one\"\nuntli = 1\n")});
    CHECK(bad.status == 2);
    CHECK_THAT(bad.out, INGLE_CONTAINS("p.toml:4:1: stage.one.untli: unknown key, did you mean \"until\"?"));
}
