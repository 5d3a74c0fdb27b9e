// What was asked for, and nothing else: the events and alarms of one vessel or dish; and a name that is not
// known is answered with the nearest one, and with the same exit status everywhere.
#include <unistd.h>

#include <filesystem>
#include <iostream>
#include <nlohmann/json.hpp>
#include <sstream>

#include "daemon/logbook/logbook.hpp"
#include "tests/support/catch.hpp"
#include "tools/cli/program/command.hpp"

using namespace ingle;

namespace {

constexpr AlarmType above_band{"above-band", Priority::high};
constexpr auto kitchen = R"(
[kitchen]
name = "village hall"
units = "degC"

[[probe]]
name = "stock"
driver = "simulated"
of = "stockpot"

[[probe]]
name = "smoke"
driver = "simulated"
of = "smoker"

[[vessel]]
name = "stockpot"
kind = "pot"
medium = "stock"

[[vessel]]
name = "smoker"
kind = "smoker"
medium = "smoke"

[[dish]]
name = "goose-roll"
vessel = "stockpot"

[[dish]]
name = "trout"
vessel = "smoker"
)";

class Folder {
public:
    Folder() {
        path = std::filesystem::temp_directory_path() / ("ingle-asked-" + std::to_string(getpid()));
        std::filesystem::create_directories(path);
    }
    ~Folder() {
        std::error_code ignored;
        std::filesystem::remove_all(path, ignored);
    }
    struct Result {
        int status = -1;
        std::string out, err;
    };
    Result run(std::vector<std::string> words) const {
        words.insert(words.begin(), {"ingle", "--state", path.string()});
        std::vector<char*> argv;
        for (auto& word : words) argv.push_back(word.data());
        std::ostringstream out, errors;
        cli::Context context{path, out};
        auto* const before = std::cerr.rdbuf(errors.rdbuf());
        int const status = cli::run_program(static_cast<int>(argv.size()), argv.data(), context);
        std::cerr.rdbuf(before);
        return {status, out.str(), errors.str()};
    }
    std::filesystem::path path;
};

void an_evening(Folder const& folder) {
    logbook::WriterOptions options;
    options.path = (folder.path / "logbook.db").string(), options.boot_id = "boot-a";
    options.started = Instant(Span(1000)), options.clock = {1'790'000'000'000, true};
    options.probes = {{"stock", "simulated", "of=stockpot", {}}, {"smoke", "simulated", "of=smoker", {}}};
    options.vessels = {"stockpot", "smoker"}, options.dishes = {"goose-roll", "trout"};
    options.settings = kitchen;
    logbook::Writer writer(options, {});
    writer.resume();
    for (int i = 0; i < 4; ++i) {
        Recorded reading;
        reading.probe = i % 2, reading.at = Instant(Span(2000 + 1000 * i));
        reading.raw = reading.celsius = 80 + i;
        writer.record(reading);
    }
    auto const tell = [&](std::int64_t at, std::string name, Subject about, std::string text) {
        writer.record(Event{Instant(Span(at)), std::move(name), about, std::move(text), {}});
    };
    Subject const stockpot{SubjectKind::vessel, 0}, trout{SubjectKind::dish, 1};
    tell(2500, "door-opened", stockpot, "the lid of the pot");
    tell(2600, "refused", {}, "there is no timer 9");
    tell(2700, "stage-began", trout, "trout: smoke in smoker");
    tell(2800, "stage-began", trout, "trout: poach in stockpot");
    tell(2900, "refused", stockpot, "stockpot, which was mistyped");
    for (int vessel = 0; vessel < 2; ++vessel) {
        AlarmChanged change;
        change.at = Instant(Span(3000 + vessel)), change.transition = Transition::raised;
        change.alarm.id = vessel + 1, change.alarm.type = &above_band;
        change.alarm.subject = {SubjectKind::vessel, vessel}, change.alarm.active = true;
        change.alarm.state = AlarmState::unacknowledged;
        change.alarm.text = vessel == 0 ? "the pot is hot" : "the smoke is hot";
        writer.record(change);
    }
    REQUIRE(writer.flush(Span(5000)));
}

constexpr auto evening = "2026-09-21T00:00:00Z to 2026-09-23T00:00:00Z";

}  // namespace

TEST_CASE("history and alarms are of what was asked for, and a typing error is no event of the kitchen") {
    Folder const folder;
    an_evening(folder);
    auto const pot = folder.run({"history", "stockpot", evening});
    INFO(pot.out << pot.err);
    REQUIRE(pot.status == 0);
    for (auto const* told :
         {"the lid of the pot", "trout: poach in stockpot", "#1 above-band", "the pot is hot"})
        CHECK_THAT(pot.out, INGLE_CONTAINS(told));
    for (auto const* other : {"timer 9", "mistyped", "in smoker", "the smoke is hot"})
        CHECK(pot.out.find(other) == std::string::npos);
    auto const all = folder.run({"history", evening});
    CHECK_THAT(all.out, INGLE_CONTAINS("the smoke is hot") && INGLE_CONTAINS("smoke in smoker"));
    CHECK(all.out.find("timer 9") == std::string::npos);

    auto const data = nlohmann::json::parse(folder.run({"history", "smoker", evening, "--json"}).out);
    REQUIRE(data["alarms"].size() == 1);
    CHECK(data["alarms"][0]["id"] == 2);
    for (auto const& event : data["events"]) CHECK(event["subject"] == "trout");

    auto const alarms = folder.run({"alarms", "stockpot", evening});
    CHECK_THAT(alarms.out, INGLE_CONTAINS("1 alarm\n") && INGLE_CONTAINS("the pot is hot"));
    CHECK(alarms.out.find("smoke") == std::string::npos);
    CHECK_THAT(folder.run({"alarms", evening}).out, INGLE_CONTAINS("2 alarms"));
}

TEST_CASE("a name that is not known is wrong usage, and the nearest one is named") {
    Folder const folder;
    an_evening(folder);
    struct Typed {
        std::vector<std::string> words;
        char const* meant;
    };
    std::vector<Typed> const mistakes{
        {{"history", "stokcpot"}, "did you mean \"stockpot\"?"},
        {{"alarms", "stock-pot"}, "did you mean \"stockpot\"?"},
        {{"cooks", "gooseroll"}, "did you mean \"goose-roll\"?"},
        {{"explain", "food", "venisn"}, "did you mean \"venison\"?"},
        {{"explain", "driver", "serialline"}, "did you mean \"serial-line\"?"},
        {{"explain", "channel", "webhok"}, "did you mean \"webhook\"?"},
        {{"explain", "kitchen", "vesel"}, "did you mean \"vessel\"?"},
        {{"begin", "tart", "--fod", "vegetable"}, "did you mean \"--food\"?"},
        {{"now", "--wach"}, "`ingle now` has no option --wach; did you mean \"--watch\"?"},
        {{"calc", "cook-time", "--fod", "fish"}, "`ingle calc cook-time --help`"},
        {{"help"}, "`ingle --help` lists"},
        {{"calc", "cooling", "--recording", "x.csv", "--rule", "food-cod"}, ""}};
    for (auto const& [words, meant] : mistakes) {
        auto const answer = folder.run(words);
        INFO(words[0] << ' ' << (words.size() > 1 ? words[1] : "") << ": " << answer.out << answer.err);
        CHECK(answer.status == 2);
        CHECK_THAT(answer.err, INGLE_CONTAINS(meant));
    }
    // A dish that has not cooked yet has none: that is an answer.
    CHECK(folder.run({"cooks", "goose-roll"}).status == 0);
    // What is understood as a time is not taken for a name.
    auto const to_come = folder.run({"history", "tomorrow"});
    CHECK(to_come.status == 2);
    CHECK(to_come.err.find("is called so") == std::string::npos);
}
