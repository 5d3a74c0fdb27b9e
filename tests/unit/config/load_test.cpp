#include "config/load.hpp"

#include <algorithm>
#include <filesystem>
#include <fstream>
#include <tuple>

#include "config/sections.hpp"
#include "tests/support/catch.hpp"

using namespace ingle;

namespace {

std::string const sound = R"(
[kitchen]
name = "village hall"
units = "degF"
altitude = "240 m"
[[probe]]
name = "stock"
driver = "serial-line"
port = "/dev/serial/by-id/x"
channel = "T1"
plausible = ["-10 degC", "130 degC"]
calibration = [{ reads = "33.1 degF", is = "32 degF" }, { reads = "210.4 degF", is = "211.6 degF" }]
[[probe]]
name = "goose-core"
driver = "serial-line"
port = "/dev/serial/by-id/x"
channel = "T2"
[[vessel]]
name = "stockpot"
kind = "pot"
medium = "stock"
band = ["180 degF", "190 degF"]
deadband = "1 degF"
salt = "1 %"
[[dish]]
name = "goose-roll"
vessel = "stockpot"
core = "goose-core"
food = "ground-poultry"
shape = "cylinder"
thickness = "9 cm"
mass = "1.8 kg"
serve-at = "2026-11-26T17:00:00-05:00"
[[channel]]
name = "phone"
kind = "webhook"
url = "http://127.0.0.1:8093/notice"
least = "medium"
)";

std::string all_errors(std::string const& text) {
    std::string out;
    for (auto const& error : parse_kitchen(text, "k.toml").errors) out += error.text() + "\n";
    return out;
}

// The sound file with one piece replaced: what does the loader say?
std::string with(std::string const& from, std::string const& to) {
    auto text = sound;
    auto const place = text.find(from);
    REQUIRE(place != std::string::npos);
    text.replace(place, from.size(), to);
    return all_errors(text);
}

}  // namespace

TEST_CASE("a sound kitchen file becomes settings in SI units") {
    auto const loaded = parse_kitchen(sound, "k.toml");
    auto const& [s, errors, warnings] = std::tie(loaded.settings, loaded.errors, loaded.warnings);
    REQUIRE(errors.empty());
    CHECK(warnings.empty());
    CHECK(s.units == TemperatureUnit::fahrenheit);
    CHECK(s.altitude->metres == 240);
    REQUIRE(s.probes.size() == 2);
    CHECK(std::get<std::string>(s.probes[0].options.at("channel").value) == "T1");
    CHECK(s.probes[0].options.at("port").where.line == 9);
    CHECK(s.probes[0].options.size() == 2);
    REQUIRE(s.probes[0].calibration.size() == 2);
    CHECK_THAT(s.vessels[0].band->low.celsius, WithinAbs(82.2222, 1e-3));
    CHECK(s.vessels[0].medium == 0);
    CHECK(s.dishes[0].core == 1);
    CHECK(s.dishes[0].shape == Shape::cylinder);
    CHECK(s.dishes[0].serve_at == 1795730400000);
    CHECK(s.channels[0].least == Priority::medium);
    CHECK_FALSE(s.serve.tcp);
}

TEST_CASE("limits: without unit, swapped, equal, impossible, narrower than the deadband (G1, G3, G4)") {
    std::string const band = "[\"180 degF\", \"190 degF\"]";
    CHECK_THAT(with(band, "[225, \"230 degF\"]"),
               INGLE_CONTAINS(
                   "k.toml:22:9: vessel.stockpot.band: \"225\" has no unit, write \"225 degF\" (107.2 degC) "
                   "or \"225 degC\" (437 degF)"));
    CHECK_THAT(with(band, "[\"120 degC\", \"100 degC\"]"),
               INGLE_CONTAINS("low \"120 degC\" is above high \"100 degC\""));
    CHECK_THAT(with(band, "[\"90 degC\", \"90 degC\"]"), INGLE_CONTAINS("equals high"));
    CHECK_THAT(with(band, "[\"90 degC\"]"), INGLE_CONTAINS("has 1 limits instead of two"));
    CHECK_THAT(with(band, "[\"90 degC\", \"1000C\"]"), INGLE_CONTAINS("impossible in a pot"));
    CHECK_THAT(with(band, "[\"58,5 degC\", \"60 degC\"]"), INGLE_CONTAINS("write \"58.5 degC\""));
    CHECK_THAT(with("deadband = \"1 degF\"", "deadband = \"10 degF\""),
               INGLE_CONTAINS("as wide as the band"));
    CHECK_THAT(with("[\"-10 degC\", \"130 degC\"]", "[\"130 degC\", \"-10 degC\"]"),
               INGLE_CONTAINS("probe.stock.plausible"));
}

TEST_CASE("names and keys that do not exist are errors with the nearest that does (G5)") {
    CHECK_THAT(
        with("medium = \"stock\"", "medium = \"stokc\""),
        INGLE_CONTAINS(
            "k.toml:21:10: vessel.stockpot.medium: there is no probe \"stokc\", did you mean \"stock\"?"));
    CHECK_THAT(with("vessel = \"stockpot\"", "vessel = \"pan\""), INGLE_CONTAINS("write \"stockpot\""));
    CHECK_THAT(with("deadband =", "deadbnad ="),
               INGLE_CONTAINS("vessel.stockpot.deadbnad: unknown key, did you mean \"deadband\"?"));
    CHECK_THAT(with("units =", "unit ="), INGLE_CONTAINS("did you mean \"units\"?"));
    CHECK_THAT(with("[[channel]]", "[[chanel]]"), INGLE_CONTAINS("did you mean \"channel\"?"));
    CHECK_THAT(with("ground-poultry", "ground-poltry"), INGLE_CONTAINS("did you mean \"ground-poultry\"?"));
    CHECK_THAT(with("shape =", "plan = \"poach\"\nshape ="), INGLE_CONTAINS("there is no plan \"poach\""));
}

TEST_CASE("two of one name and two on one wire are refused, both places named (G6)") {
    CHECK_THAT(with("\"goose-core\"\ndriver", "\"stock\"\ndriver"),
               INGLE_CONTAINS("name of another probe, in line 6"));
    auto const both = with("\"goose-core\"\ndriver", "\"Stock\"\ndriver");
    CHECK_THAT(both, INGLE_CONTAINS("name of another probe, in line 6"));
    CHECK_THAT(both, INGLE_CONTAINS("characters that a name cannot have"));
    CHECK_THAT(with("\"goose-core\"\ndriver", "\"12\"\ndriver"),
               INGLE_CONTAINS("would be taken for a number"));
    CHECK_THAT(with("\"goose-core\"\ndriver", "\"-x\"\ndriver"),
               INGLE_CONTAINS("would be taken for an option"));
    CHECK_THAT(with("\"T2\"", "\"T1\""),
               INGLE_CONTAINS("wired to the same place as the probe \"stock\" in line 6"));
}

TEST_CASE("a calibration that no sound probe needs is refused") {
    CHECK_THAT(with("\"210.4 degF\", is = \"211.6 degF\"", "\"60 degF\", is = \"61 degF\""),
               INGLE_CONTAINS("closer than"));
    CHECK_THAT(with("\"211.6 degF\"", "\"218 degF\""), INGLE_CONTAINS("stretches the scale"));
    CHECK_THAT(with("is = \"32 degF\"", "is = \"45 degF\""), INGLE_CONTAINS("wrong bath or the wrong probe"));
    CHECK_THAT(with("[{ reads", "[{ reads = \"70 degF\", is = \"70 degF\" }, { reads"),
               INGLE_CONTAINS("has 3 points"));
}

TEST_CASE("all mistakes at once, in the order of the file") {
    auto const text = with("units = \"degF\"", "units = \"degR\"\nhight = 3");
    CHECK(std::ranges::count(text, '\n') == 2);
    auto many = sound;
    for (auto const& [from, to] : std::vector<std::pair<std::string, std::string>>{
             {"240 m", "240"}, {"T2", "T1"}, {"\"pot\"", "\"pto\""}, {"9 cm", "9 kg"}})
        many.replace(many.find(from), from.size(), to);
    auto const errors = parse_kitchen(many, "k.toml").errors;
    CHECK(errors.size() == 4);
    CHECK(std::ranges::is_sorted(errors, {}, [](ConfigError const& e) { return e.where.line; }));
    CHECK_THAT(all_errors("[kitchen\n"), INGLE_CONTAINS("k.toml:1:"));
    CHECK_THAT(all_errors(""), INGLE_CONTAINS("kitchen: is missing"));
    CHECK_THAT(all_errors("kitchen = 3\nprobe = 4\n[serve]\naddress = \"0.0.0.0\""),
               INGLE_CONTAINS("serve.token-file: is missing"));
}

TEST_CASE("a numbered serial port is a warning") {
    auto text = sound;
    text.replace(text.find("/dev/serial/by-id/x"), 19, "/dev/ttyUSB0");
    auto const loaded = parse_kitchen(text, "k.toml");
    CHECK(loaded.errors.empty());
    REQUIRE(loaded.warnings.size() == 1);
    CHECK_THAT(loaded.warnings[0].text(), INGLE_CONTAINS("k.toml:9:8: probe.stock.port"));
}

TEST_CASE("plans are found beside the kitchen file, in plans/, in the given folders, or by path") {
    namespace fs = std::filesystem;
    auto const root = fs::path(TEST_BUILD) / "unit_config_plans";
    fs::remove_all(root);
    fs::create_directories(root / "kitchen/plans");
    fs::create_directories(root / "shared");
    auto const write = [&](char const* file, std::string const& text) { std::ofstream(root / file) << text; };
    auto text = sound;
    auto const plan = [&](std::string const& name, std::string const& stage) {
        return "name = \"" + name + "\"\n[[stage]]\nname = \"one\"\n" + stage;
    };
    auto const load = [&](std::string const& name) {
        write("kitchen/k.toml",
              std::string(sound).replace(sound.find("shape ="), 7, "plan = \"" + name + "\"\nshape ="));
        return load_kitchen(root / "kitchen/k.toml", {root / "shared"});
    };
    write("kitchen/plans/poach.toml",
          plan("poach",
               "band = [\"180 degF\", \"190 degF\"]\nuntil = { core = \"165 degF\", time = \"2 h\" }\n"));
    write("shared/rest.toml", plan("rest", "vessel = \"stockpto\"\nhihg = 1\n"));
    auto loaded = load("poach");
    REQUIRE(loaded.errors.empty());
    REQUIRE(loaded.settings.plans.size() == 1);
    CHECK(loaded.settings.plans[0].stages[0].until.time->seconds == 7200);
    CHECK(load("plans/poach.toml").settings.dishes[0].plan == "poach");
    loaded = load("rest");
    REQUIRE(loaded.errors.size() == 2);
    CHECK_THAT(loaded.errors[0].text(),
               INGLE_CONTAINS("rest.toml:2:1: stage.one.vessel: there is no vessel \"stockpto\""));
    CHECK_THAT(loaded.errors[1].text(), INGLE_CONTAINS("rest.toml:5:1: stage.one.hihg: unknown key"));
    loaded = load("paoch");
    REQUIRE(loaded.errors.size() == 1);
    CHECK_THAT(loaded.errors[0].text(), INGLE_CONTAINS("there is no plan \"paoch\", did you mean \"poach\"? "
                                                       "Else write \"poach\" or \"rest\""));
    CHECK(load_kitchen(root / "none.toml").errors.size() == 1);
}

TEST_CASE("what a stage does is a word of the plan, asked for where the food's rules depend on it") {
    std::vector<ConfigError> errors;
    auto const stage = [&](std::string const& more) {
        errors.clear();
        return read_plan("name = \"p\"\n[[stage]]\nname = \"hold\"\n" + more, "p.toml", errors);
    };
    CHECK(stage("does = \"hot-hold\"\n").stages[0].does == Does::hot_hold);
    CHECK(errors.empty());
    CHECK_FALSE(stage("").stages[0].does);  // never from its name
    stage("does = \"hold\"\n");
    REQUIRE(errors.size() == 1);
    CHECK_THAT(errors[0].text(), INGLE_CONTAINS("p.toml:4:8: stage.hold.does: \"hold\""));
    CHECK_THAT(errors[0].text(), INGLE_CONTAINS("\"hot-hold\""));

    auto const warned = [&](std::string kind, std::string const& more) {
        auto text = std::string(sound);
        text.replace(text.find("kind = \"pot\""), 12, "kind = \"" + kind + "\"");
        text.replace(text.find("shape ="), 7, "plan = \"p\"\nshape =");
        auto const loaded = parse_kitchen(text, "k.toml", {stage(more)});
        return loaded.warnings.empty() ? std::string() : loaded.warnings[0].text();
    };
    CHECK(warned("pot", "until = { core = \"165 degF\" }\n").empty());
    CHECK_THAT(warned("pot", "until = { core = \"41 degF\" }\n"), INGLE_CONTAINS("write does = \"chill\""));
    CHECK_THAT(warned("fridge", ""),
               INGLE_CONTAINS("p.toml:2:1: stage.hold.does: is missing") && INGLE_CONTAINS("\"cold-hold\""));
    CHECK_THAT(warned("hot-box", ""), INGLE_CONTAINS("\"hot-hold\""));
    CHECK(warned("fridge", "does = \"brine\"\n").empty());
}

TEST_CASE("the kitchens that come with Ingle load without a word") {
    auto const folder = std::filesystem::path(TEST_SOURCE) / "config";
    int plans = 0;
    for (auto const& file : std::filesystem::directory_iterator(folder / "kitchens")) {
        auto const loaded = load_kitchen(file.path(), {folder / "plans"});
        for (auto const& error : loaded.errors) FAIL_CHECK(error.text());
        CHECK(loaded.warnings.empty());
        plans += static_cast<int>(loaded.settings.plans.size());
    }
    CHECK(plans >= 4);
}

TEST_CASE("a kitchen's name is more than blanks") {
    for (std::string const name : {" ", "\\t "}) {
        auto text = sound;
        text.replace(text.find("village hall"), 12, name);
        auto const loaded = parse_kitchen(text, "k.toml");
        REQUIRE(loaded.errors.size() == 1);
        CHECK_THAT(loaded.errors[0].text(), INGLE_CONTAINS("kitchen.name") && INGLE_CONTAINS("is blank"));
    }
}

TEST_CASE("what is not TOML is told in plain words, with what to write") {
    constexpr std::pair<char const*, char const*> texts[] = {
        {"name = hall", "neither a text in quotes nor a number, put words"},
        {"[kitchen", "a heading has no end, write [kitchen]"},
        {"name = \"hall\nx = 1", "a text has no end on its line, close it"},
        {"a = 1\na = 2", ": syntax: this key stands twice here"},
        {"[kitchen]\n[kitchen]", "this heading stands twice"},
        {"a = [1, 2", "a list has no end"},
        {"altitude = 240 m", "in quotes, \"240 m\""},
        {"name \"hall\"", "there is no = after the key"},
        {"= 3", "a line begins with what is no key"},
        {"a = {b = 1", "a { has no }"},
        {"name =", "there is no value after the"},
        {"a = 007", "a number begins with 0"},
        {"a = true1", "neither a text"},
    };
    for (auto const& [text, said] : texts) {
        INFO(text);
        auto const loaded = parse_kitchen(text, "k.toml");
        REQUIRE(loaded.errors.size() == 1);
        CHECK_THAT(loaded.errors[0].text(), INGLE_CONTAINS(said));
        CHECK(loaded.errors[0].text().find("Error while") == std::string::npos);
    }
}
