// ingle record, on logbook files that a Writer has made.
#include <unistd.h>

#include <filesystem>
#include <fstream>
#include <nlohmann/json.hpp>
#include <sstream>

#include "daemon/logbook/logbook.hpp"
#include "tests/support/catch.hpp"
#include "tools/cli/program/command.hpp"

using namespace ingle;
using nlohmann::json;

namespace {

// 2026-09-21 14:13:20 UTC. The first reading of a boot that began a second earlier.
constexpr std::int64_t wall_ms = 1'790'000'000'000;
constexpr char const* kitchen = R"(
[kitchen]
name = "village hall"
units = "degC"
zone = "UTC"
[[probe]]
name = "air"
driver = "simulated"
of = "fridge"
every = "10 s"
[[probe]]
name = "spare"
driver = "simulated"
of = "fridge"
[[vessel]]
name = "fridge"
kind = "fridge"
medium = "air"
)";

class Folder {
public:
    Folder() {
        path = std::filesystem::temp_directory_path() / ("ingle-record-" + std::to_string(getpid()));
        std::filesystem::create_directories(path);
        options.path = (path / "logbook.db").string();
        options.boot_id = "boot-a";
        options.started = Instant(Span(1000));
        options.clock = {wall_ms, true};
        options.settings = kitchen;
        options.probes = {{"air", "simulated", "of=fridge", {}}, {"spare", "simulated", "of=fridge", {}}};
        options.vessels = {"fridge"};
    }
    ~Folder() {
        std::error_code ignored;
        std::filesystem::remove_all(path, ignored);
    }
    std::string run(std::vector<std::string> words) const {
        words.insert(words.begin(), {"ingle", "--state", path.string()});
        std::vector<char*> argv;
        for (auto& word : words) argv.push_back(word.data());
        std::ostringstream out;
        cli::Context context{path, out};
        REQUIRE(cli::run_program(static_cast<int>(argv.size()), argv.data(), context) == cli::done);
        return out.str();
    }
    json day(std::string const& which) const {
        return json::parse(run({"record", "--day", which, "--json"}));
    }
    std::filesystem::path path;
    logbook::WriterOptions options;
};

Instant at(std::int64_t s) {
    return Instant(Span(1000 * s));
}

void read(logbook::Writer& writer, std::int64_t s, double celsius) {
    Recorded r;
    r.probe = 0, r.at = at(s), r.raw = r.celsius = celsius;
    writer.record(r);
}

constexpr AlarmType cold_hold{.name = "cold-hold"};

AlarmChanged alarm_step(std::int64_t s, Transition transition, std::string by) {
    AlarmChanged change;
    change.at = at(s);
    change.transition = transition;
    change.alarm.id = 7;
    change.alarm.type = &cold_hold;
    change.alarm.subject = {SubjectKind::vessel, 0};
    change.alarm.priority = Priority::high;
    change.alarm.text = "the fridge is <warm>\x1b[2J";
    change.alarm.acknowledged_by = std::move(by);
    return change;
}

}  // namespace

TEST_CASE("the record of a day has what was read, noted and done, and blanks for the rest") {
    Folder const folder;
    {
        logbook::Writer writer(folder.options, {});
        writer.resume();
        // Half an hour at 3 degC, a hole of 20 min, ten minutes at 9 degC, then 4 degC.
        for (int s = 10; s <= 1800; s += 10) read(writer, s, 3 + (s / 10 % 2) * 0.1);
        for (int s = 3000; s < 3600; s += 10) read(writer, s, 9);
        for (int s = 3600; s <= 5400; s += 10) read(writer, s, 4);
        writer.calibrated(at(2000), 0, {{{0.5}, {0}}});
        read(writer, 5410, 4);
        writer.record(alarm_step(3100, Transition::raised, ""));
        writer.record(alarm_step(3200, Transition::acknowledged, "the <b>cook</b>\x1b[31m"));
        // Who shelved it was not recorded: whoever acknowledged it before did not.
        writer.record(alarm_step(3250, Transition::shelved, "the <b>cook</b>"));
        writer.record(alarm_step(3700, Transition::cleared, ""));
        writer.record(
            Event{at(3300), "note", {SubjectKind::vessel, 0}, "moved it, \"all\" of it\x1b[0m", {}});
        REQUIRE(writer.flush(Span(5000)));
    }
    auto const facts = folder.day("2026-09-21");
    INFO(facts.dump(2));
    REQUIRE(facts["cold_holding"].size() == 1);
    auto const& fridge = facts["cold_holding"][0];
    CHECK_THAT(fridge["lowest"]["celsius"].get<double>(), WithinAbs(3, 0.01));
    CHECK_THAT(fridge["highest"]["celsius"].get<double>(), WithinAbs(9, 0.01));
    CHECK_THAT(fridge["beyond_s"].get<double>(), WithinAbs(600, 15));
    CHECK_THAT(fridge["kept_s"].get<double>(), WithinAbs(86400, 0.001));
    // Before it began, the hole, and after it ended; only 3600 s of readings and 610 were there.
    CHECK_THAT(fridge["not_read_s"].get<double>(), WithinAbs(86400 - 1790 - 2410, 30));
    CHECK(facts["cooking"].empty());
    CHECK(facts["hot_holding"].empty());
    REQUIRE(facts["corrective_actions"].size() == 1);
    auto const& action = facts["corrective_actions"][0];
    REQUIRE(action["acts"].size() == 2);
    CHECK(action["acts"][0]["what"] == "acknowledged");
    CHECK_FALSE(action["acts"][0]["by"].is_null());
    CHECK(action["acts"][1]["what"] == "shelved");
    CHECK(action["acts"][1]["by"].is_null());
    CHECK_FALSE(action["cleared"].is_null());
    REQUIRE(facts["calibrations"].size() == 1);
    CHECK(facts["calibrations"][0]["probe"] == "air");
    CHECK(facts["calibrations"][0]["points"][0]["reads_c"] == 0.5);
    CHECK(facts["calibrations"][0]["by"].is_null());
    REQUIRE(facts["notes"].size() == 1);

    auto const page = (folder.path / "record.html").string(), table = (folder.path / "record.csv").string();
    folder.run({"record", "--day", "2026-09-21", "--html", page, "--csv", table});
    auto const whole = [](std::string const& file) {
        std::ostringstream out;
        out << std::ifstream(file, std::ios::binary).rdbuf();
        return out.str();
    };
    for (auto const& form : {whole(page), whole(table)}) CHECK(form.find('\x1b') == std::string::npos);
    for (auto const& form : {folder.run({"record", "--day", "2026-09-21"}), whole(page), whole(table)}) {
        INFO(form);
        CHECK_THAT(form, INGLE_CONTAINS("Local codes and licensed practice"));
    }
    CHECK_THAT(whole(page), INGLE_CONTAINS("the &lt;b&gt;cook&lt;/b&gt;"));
    CHECK(whole(page).find("<b>") == std::string::npos);
    CHECK_THAT(whole(table), INGLE_CONTAINS("\"moved it, \"\"all\"\" of it"));
}

TEST_CASE("the record of another day has none of it") {
    Folder const folder;
    {
        logbook::Writer writer(folder.options, {});
        writer.resume();
        for (int s = 10; s <= 1800; s += 10) read(writer, s, 3);
        writer.record(alarm_step(1000, Transition::raised, ""));
        writer.record(alarm_step(1100, Transition::cleared, ""));
        REQUIRE(writer.flush(Span(5000)));
    }
    auto const facts = folder.day("2026-09-22");
    INFO(facts.dump(2));
    CHECK(facts["readings"] == 0);
    CHECK(facts["cold_holding"][0]["lowest"].is_null());
    CHECK(facts["cold_holding"][0]["beyond_s"].is_null());
    CHECK(facts["cold_holding"][0]["not_read_s"].is_null());
    CHECK(facts["corrective_actions"].empty());
    CHECK(facts["not_read"].size() == 1);
    CHECK_THAT(folder.run({"record", "--day", "2026-09-22"}), INGLE_CONTAINS("No probe was read"));
}
