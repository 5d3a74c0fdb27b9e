// Commands about a logbook file that a Writer has made: an old cook by the calibration that is now set, and
// the doctor's word on the file.
#include <unistd.h>

#include <filesystem>
#include <fstream>
#include <iostream>
#include <nlohmann/json.hpp>
#include <sstream>

#include "daemon/logbook/logbook.hpp"
#include "tests/support/catch.hpp"
#include "tools/cli/program/command.hpp"

using namespace ingle;

namespace {

struct Result {
    int status = -1;
    std::string out;
};

class Folder {
public:
    Folder() {
        path = std::filesystem::temp_directory_path() / ("ingle-book-" + std::to_string(getpid()));
        std::filesystem::create_directories(path);
    }
    ~Folder() {
        std::error_code ignored;
        std::filesystem::remove_all(path, ignored);
    }
    Result run(std::vector<std::string> words) const {
        words.insert(words.begin(), {"ingle", "--state", path.string()});
        std::vector<char*> argv;
        for (auto& word : words) argv.push_back(word.data());
        std::ostringstream out;
        cli::Context context{path, out};
        int const status = cli::run_program(static_cast<int>(argv.size()), argv.data(), context);
        return {status, out.str()};
    }
    std::string logbook() const { return (path / "logbook.db").string(); }
    std::filesystem::path path;
};

// Three readings of 80, 81 and 82 degC without calibration; then the probe is calibrated to read two kelvin
// more, reads 80 again, and is calibrated a second time: by then ice reads 1 and steam 99.
void two_calibrations(Folder const& folder) {
    logbook::WriterOptions options;
    options.path = folder.logbook(), options.boot_id = "boot-a", options.started = Instant(Span(1000));
    options.clock = {1'790'000'000'000, true};
    options.probes = {{"stock", "simulated", "of=stockpot", {}}, {"trout", "simulated", "of=tub", {}}};
    logbook::Writer writer(options, {});
    writer.resume();
    auto const read = [&](int probe, std::int64_t ms, double raw) {
        Recorded r;
        r.probe = probe, r.at = Instant(Span(ms)), r.raw = r.celsius = raw;
        writer.record(r);
    };
    for (int i = 0; i < 3; ++i) read(0, 2000 + 1000 * i, 80 + i);
    read(1, 2000, 4);
    writer.calibrated(Instant(Span(6000)), 0, {{{80}, {82}}});
    read(0, 7000, 80);
    writer.calibrated(Instant(Span(8000)), 0, {{{1}, {0}}, {{99}, {100}}});
    read(0, 9000, 50);
    REQUIRE(writer.flush(Span(5000)));
}

// The numbers of one column, in order; rows without one are left out.
std::vector<double> column(std::string const& csv, std::string const& name) {
    std::istringstream lines(csv);
    std::string line, cell;
    std::vector<double> values;
    int wanted = -1;
    while (std::getline(lines, line)) {
        if (line.empty() || line[0] == '#') continue;
        std::istringstream cells(line);
        for (int i = 0; std::getline(cells, cell, ','); ++i) {
            if (wanted < 0 && cell.find(name) != std::string::npos) {
                wanted = i;
                break;
            }
            if (i == wanted && !cell.empty()) values.push_back(std::stod(cell));
        }
    }
    return values;
}

}  // namespace

TEST_CASE("an old cook is exported as it was, bare, or by the calibration that is now set") {
    Folder const folder;
    two_calibrations(folder);
    std::string const span = "2026-09-21T00:00:00Z to 2026-09-23T00:00:00Z";
    auto const as_it_was = folder.run({"export", "stock", span, "--unit", "degC"});
    INFO(as_it_was.out);
    REQUIRE(as_it_was.status == 0);
    CHECK(column(as_it_was.out, "stock") == std::vector<double>{80, 81, 82, 82, 50});
    auto const raw = folder.run({"export", "stock", span, "--unit", "degC", "--raw"});
    CHECK(column(raw.out, "stock") == std::vector<double>{80, 81, 82, 80, 50});
    // Through (1, 0) and (99, 100): (reads - 1) * 100 / 98.
    auto const anew = column(
        folder.run({"export", "stock", "trout", span, "--unit", "degC", "--recalculate"}).out, "stock");
    std::vector<double> const reads{80, 81, 82, 80, 50};
    REQUIRE(anew.size() == reads.size());
    for (std::size_t i = 0; i < reads.size(); ++i)
        CHECK_THAT(anew[i], WithinAbs((reads[i] - 1) * 100 / 98, 0.01));
    auto const other = folder.run({"export", "trout", span, "--unit", "degC", "--recalculate"});
    CHECK(column(other.out, "trout") == std::vector<double>{4});
}

TEST_CASE("the doctor names what a restart did not take up") {
    Folder const folder;
    {
        auto const now = std::chrono::duration_cast<std::chrono::milliseconds>(
            std::chrono::system_clock::now().time_since_epoch());
        logbook::WriterOptions options;
        options.path = folder.logbook(), options.boot_id = "boot-a", options.started = Instant(Span(1000));
        options.clock = {now.count() - 60'000, true};
        logbook::Writer writer(options, {});
        writer.resume();
        writer.record(
            Event{Instant(Span(2000)), "not-restored", {}, "the calibration of stock: refused.", {}});
        REQUIRE(writer.flush(Span(5000)));
    }
    auto const said = folder.run({"doctor"}).out;
    CHECK_THAT(said, INGLE_CONTAINS("WARN"));
    CHECK_THAT(said, INGLE_CONTAINS("the calibration of stock: refused."));
}

TEST_CASE("the doctor looks into the logbook itself") {
    Folder const folder;
    two_calibrations(folder);
    auto const sound = folder.run({"doctor"}).out;
    CHECK_THAT(sound, INGLE_CONTAINS("every page is sound"));
    CHECK_THAT(sound, INGLE_CONTAINS(" free, enough for"));
    {  // field case D4: 4 KiB in the middle of the file are overwritten
        auto const size = std::filesystem::file_size(folder.logbook());
        std::fstream file(folder.logbook(), std::ios::in | std::ios::out | std::ios::binary);
        file.seekp(static_cast<std::streamoff>(size / 2 / 4096 * 4096));
        file << std::string(4096, '\x5a');
    }
    auto const damaged = folder.run({"doctor"});
    CHECK(damaged.status == 1);
    CHECK_THAT(damaged.out, INGLE_CONTAINS("FAIL"));
    CHECK_THAT(damaged.out, INGLE_CONTAINS("the file is damaged"));
    CHECK_THAT(damaged.out, INGLE_CONTAINS("moves the damaged file aside"));
}

TEST_CASE("a recording of two columns is imported without a kitchen file") {
    Folder const folder;
    auto const recording = (folder.path / "roast.csv").string();
    std::ofstream(recording) << "time,breast [degC],oven [degC]\n0,5,180\n60,6,180\n120,7,181\n";
    auto const imported = folder.run({"import", recording, "--as", "roast", "--core", "breast", "--medium",
                                      "oven", "--food", "whole-poultry"});
    CHECK(imported.status == cli::done);
    CHECK_THAT(imported.out, INGLE_CONTAINS("6 readings are imported as roast"));
    CHECK(folder.run({"review", "roast"}).status == cli::done);
}

TEST_CASE("a review scores the forecasts that were told, and history does not show them") {
    Folder const folder;
    auto const recording = (folder.path / "roast.csv").string();
    std::ofstream csv(recording);
    csv << "time,breast [degC],oven [degC]\n";
    for (int s = 0; s <= 9000; s += 30)
        csv << s << ',' << 150 - 145 * std::exp(-std::max(0, s - 600) / 9000.0) << ",150\n";
    csv.close();
    REQUIRE(folder
                .run({"import", recording, "--as", "roast", "--core", "breast", "--medium", "oven", "--food",
                      "whole-meat"})
                .status == cli::done);
    auto const facts = nlohmann::json::parse(folder.run({"review", "roast", "--json"}).out)["forecasts"];
    INFO(facts.dump());
    CHECK(facts["core_from"] == "as they were told");
    CHECK(facts["core_scored"].size() == facts["core_intervals"].get<std::size_t>());
    CHECK(facts["over_all"]["cooks"] == 1);
    CHECK(facts["over_all"]["intervals"] == facts["core_intervals"]);
    CHECK(folder.run({"history", "roast"}).out.find("foretold") == std::string::npos);
}

TEST_CASE("a recording of one moment is no cook, and is refused") {
    Folder const folder;
    auto const recording = (folder.path / "one.csv").string();
    std::ofstream(recording) << "time,core [degC],air [degC]\n0,5,180\n";
    CHECK(folder.run({"import", recording, "--as", "one", "--core", "core"}).status == cli::wrong_usage);
    CHECK_FALSE(std::filesystem::exists(folder.path / "imported" / "one.db"));
}

TEST_CASE("a cook whose begin was taken back is marked, and is nobody's latest") {
    Folder const folder;
    {
        logbook::WriterOptions options;
        options.path = folder.logbook(), options.boot_id = "boot-a", options.started = Instant(Span(1000));
        options.clock = {1'790'000'000'000, true};
        options.dishes = {"trout-in-the-long-brine"};
        logbook::Writer writer(options, {});
        writer.resume();
        auto const at = [](int s) { return Instant(Span(1000 * s)); };
        auto const& dish = options.dishes.front();
        writer.cook_begun({1, dish, "smoked-fish", "brine-and-smoke", at(2)});
        writer.cook_ended(1, at(1000));
        writer.cook_begun({2, dish, "smoked-fish", "brine-and-smoke", at(2000)});
        writer.record(Event{at(2100),
                            "taken-back",
                            {SubjectKind::dish, 0},
                            "trout: the next of 10 s ago is taken back; brine goes on.",
                            {{"cook", 2}, {"given_s", 10}}});
        writer.record(Event{at(3000),
                            "taken-back",
                            {SubjectKind::dish, 0},
                            "trout: the begin of 1000 s ago is taken back; it counts as not begun.",
                            {{"cook", 2}, {"given_s", 1000}, {"not_begun", 1}}});
        writer.cook_ended(2, at(3000));
        REQUIRE(writer.flush(Span(5000)));
    }
    auto const listed = nlohmann::json::parse(folder.run({"cooks", "--json"}).out)["cooks"];
    REQUIRE(listed.size() == 2);
    CHECK(listed[0]["cook"] == 2);
    CHECK(listed[0]["taken_back"] == true);
    CHECK(listed[1]["taken_back"] == false);
    auto const latest = folder.run({"review", "trout-in-the-long-brine", "--json"});
    INFO(latest.out);
    REQUIRE(latest.status == cli::done);
    CHECK(nlohmann::json::parse(latest.out)["cook"] == "trout-in-the-long-brine 1");
    CHECK(folder.run({"review", "cook 2"}).status == cli::done);  // by its number it can be looked at

    for (int const columns : {40, 60, 80, 200}) {
        setenv("COLUMNS", std::to_string(columns).c_str(), 1);
        auto const text = folder.run({"cooks"}).out;
        unsetenv("COLUMNS");
        INFO(text);
        std::istringstream lines(text);
        for (std::string line; std::getline(lines, line);)
            CHECK(line.size() <= static_cast<std::size_t>(columns));
        CHECK_THAT(text, INGLE_CONTAINS("taken back"));
    }
}

TEST_CASE("where readings came and none counts as the core's, the calculators say why") {
    Folder const folder;
    auto const recording = (folder.path / "tip.csv").string();
    std::ofstream csv(recording);
    csv << "time,core [degC],air [degC]\n";
    for (int s = 0; s <= 9600; s += 10) csv << s << ',' << 5 + 85.0 * s / 6933 << ",160\n";
    csv.close();
    for (auto const* what : {"lethality", "cooling"}) {
        auto const said = folder
                              .run({"calc", what, recording, "--probe", "core", "--medium", "air", "--food",
                                    "whole-poultry"})
                              .out;
        INFO(said);
        CHECK_THAT(said, INGLE_CONTAINS("there are 938 readings, and none counts as the core's"));
        CHECK_THAT(said, INGLE_CONTAINS("no core that holds water gets above"));
    }
}

TEST_CASE("a review tells the alarms in the words of their raise, and says what was taken back") {
    Folder const folder;
    auto const recording = (folder.path / "late.csv").string();
    std::ofstream csv(recording);
    csv << "time,core [degC],air [degC]\n";
    for (int s = 0; s <= 9600; s += 10) {
        csv << s << ',' << 5 + 85.0 * s / 6933 << ',';
        if (s > 1200) csv << 160;
        csv << '\n';
    }
    csv.close();
    REQUIRE(folder
                .run({"import", recording, "--as", "late", "--core", "core", "--medium", "air", "--food",
                      "whole-poultry"})
                .status == cli::done);
    auto const facts = nlohmann::json::parse(folder.run({"review", "late", "--json"}).out);
    auto const text = folder.run({"review", "late"}).out;
    INFO(text);
    bool silent = false;
    for (auto const& alarm : facts["alarms"]) {
        if (alarm["alarm"] != "probe-silent") continue;
        silent = true;
        CHECK(alarm["text"].get<std::string>().find("15 min") == std::string::npos);
        REQUIRE(alarm["worse"].size() == 1);
        CHECK_THAT(alarm["worse"][0]["text"].get<std::string>(), INGLE_CONTAINS("15 min"));
    }
    CHECK(silent);
    CHECK_THAT(text, INGLE_CONTAINS("taken back then"));
    CHECK_THAT(text, INGLE_CONTAINS("what had been read of the core"));
    CHECK(text.find("The core was at its target at") == std::string::npos);
}

TEST_CASE("an alarm that was raised before the span keeps its begin and its length") {
    Folder const folder;
    static constexpr AlarmType displaced{.name = "probe-displaced"};
    {
        auto const now = std::chrono::duration_cast<std::chrono::milliseconds>(
            std::chrono::system_clock::now().time_since_epoch());
        logbook::WriterOptions options;
        options.path = folder.logbook(), options.boot_id = "boot-a", options.started = Instant(Span(1000));
        options.clock = {now.count() - 3'600'000, true};  // an hour ago
        options.probes = {{"stock", "simulated", "of=stockpot", {}}};
        logbook::Writer writer(options, {});
        writer.resume();
        AlarmChanged change{Instant(std::chrono::minutes(40)), Transition::raised, {}};
        change.alarm.id = 7;
        change.alarm.type = &displaced;
        change.alarm.subject = {SubjectKind::probe, 0};
        change.alarm.text = "Put it back.";
        writer.record(change);
        change.at = Instant(std::chrono::minutes(55)), change.transition = Transition::cleared;
        writer.record(change);
        REQUIRE(writer.flush(Span(5000)));
    }
    auto const past = [&](char const* span) {
        return nlohmann::json::parse(folder.run({"alarms", span, "--json"}).out)["alarms"];
    };
    auto const whole = past("last 50 min"), tail = past("last 10 min");
    REQUIRE(whole.size() == 1);
    REQUIRE(tail.size() == 1);
    CHECK(tail[0] == whole[0]);
    CHECK(past("last 2 min").empty());
    CHECK_THAT(folder.run({"alarms", "last 10 min"}).out, INGLE_CONTAINS("lasted 15 min"));
}

TEST_CASE("an error names what would be right") {
    Folder const folder;
    std::ostringstream errors;
    auto* const before = std::cerr.rdbuf(errors.rdbuf());
    auto const brine = folder.run({"calc", "brine", "--water", "4 l", "--salt", "0 g"}).status;
    auto const high = folder.run({"calc", "boiling-point", "--altitude", "y"}).status;
    std::ostream nowhere(nullptr);  // as a disk that is full
    cli::Context context{folder.path, nowhere};
    char program[] = "ingle", calc[] = "calc", what[] = "boiling-point", option[] = "--altitude",
         sea[] = "0 m";
    char* words[] = {program, calc, what, option, sea};
    auto const full = cli::run_program(5, words, context);
    std::cerr.rdbuf(before);
    INFO(errors.str());
    CHECK(brine == cli::wrong_usage);
    CHECK(high == cli::wrong_usage);
    CHECK(full == cli::no);
    CHECK_THAT(errors.str(), INGLE_CONTAINS("\"0 g\" is nothing; say how much there is"));
    CHECK_THAT(errors.str(), INGLE_CONTAINS("write \"240 m\""));
    CHECK_THAT(errors.str(), INGLE_CONTAINS("could not be written out"));
}

TEST_CASE("where only the minutes are kept, an export and a history of each reading say so") {
    Folder const folder;
    {
        logbook::WriterOptions options;
        options.path = folder.logbook(), options.boot_id = "boot-a", options.started = Instant(Span(1000));
        options.clock = {1'790'000'000'000, true};
        options.seal_every = Span(600'000), options.keep_days = 1;
        options.probes = {{"stock", "simulated", "of=stockpot", {}}};
        logbook::Writer writer(options, {});
        writer.resume();
        for (std::int64_t minute = 0; minute < 72 * 60; ++minute) {
            Recorded r;
            r.probe = 0, r.at = Instant(Span(minute * 60'000 + 58'000)), r.raw = r.celsius = 20;
            writer.record(r);
            if (minute % 60 == 59) REQUIRE(writer.flush(Span(5000)));
        }
    }
    std::ostringstream said;
    auto* const before = std::cerr.rdbuf(said.rdbuf());
    auto const said_by = [&](std::vector<std::string> const& words) {
        said.str({});
        folder.run(words);
        return said.str();
    };
    auto const whole = said_by({"export", "stock", "2026-09-21 14:15 to 2026-09-24 14:00"});
    auto const newest = said_by({"export", "stock", "2026-09-24 10:00:31 to 2026-09-24 13:00"});
    auto const table =
        said_by({"history", "stock", "2026-09-21 15:00 to 2026-09-21 15:05", "--grain", "raw"});
    auto const minutes =
        said_by({"history", "stock", "2026-09-21 15:00 to 2026-09-21 15:05", "--grain", "1 min"});
    std::cerr.rdbuf(before);
    CAPTURE(whole, newest, table, minutes);
    CHECK(whole.find("the single readings are not kept any more") != std::string::npos);
    CHECK(table.find("the single readings are not kept any more") != std::string::npos);
    CHECK(newest.empty());
    CHECK(minutes.empty());
}
