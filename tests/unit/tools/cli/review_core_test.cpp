// ingle review of a dish whose core the kitchen file gave another probe while it cooked.
#include <unistd.h>

#include <filesystem>
#include <nlohmann/json.hpp>
#include <sstream>

#include "daemon/logbook/logbook.hpp"
#include "tests/support/catch.hpp"
#include "tools/cli/program/command.hpp"

using namespace ingle;
using nlohmann::json;

namespace {

std::string kitchen(std::string const& core) {
    std::string text = "[kitchen]\nname = \"village hall\"\nunits = \"degC\"\nzone = \"UTC\"\n";
    for (std::string const name : {"stock", "first", "second"})
        text +=
            "[[probe]]\nname = \"" + name + "\"\ndriver = \"simulated\"\nof = \"pot\"\nevery = \"10 s\"\n";
    text += "[[vessel]]\nname = \"pot\"\nkind = \"pot\"\nmedium = \"stock\"\n";
    return text + "[[dish]]\nname = \"roll\"\nvessel = \"pot\"\nfood = \"ground-poultry\"\ncore = \"" + core +
           "\"\n";
}

struct Cooked {
    Cooked() {
        path = std::filesystem::temp_directory_path() / ("ingle-review-core-" + std::to_string(getpid()));
        std::filesystem::create_directories(path);
        options.path = (path / "logbook.db").string();
        options.boot_id = "boot-a";
        options.started = Instant(Span(1000));
        options.clock = {1'790'000'000'000, true};
        for (std::string const name : {"stock", "first", "second"})
            options.probes.push_back({name, "simulated", "of=pot", {}});
        options.vessels = {"pot"};
        options.dishes = {"roll"};
    }
    ~Cooked() {
        std::error_code ignored;
        std::filesystem::remove_all(path, ignored);
    }
    // One run of the daemon on its kitchen file: the first core warms to 76, the second is still at 40.
    void run(std::string const& core, std::int64_t from, std::int64_t to, bool begin) {
        options.settings = kitchen(core);
        options.started = Instant(Span(1000 * from));

        logbook::Writer writer(options, {});
        REQUIRE(writer.resume(Span(10'000)).recording);
        if (begin) writer.cook_begun({1, "roll", "ground-poultry", "", Instant(Span(1000 * from))});
        for (auto s = from; s < to; s += 10) {
            double const gone = double(s) / 7200;
            double const celsius[] = {80, std::min(76.0, 5 + 75 * gone * 1.4), 5 + 75 * gone * 0.5};
            for (int probe = 0; probe < 3; ++probe) {
                Recorded r;
                r.probe = probe, r.at = Instant(Span(1000 * s + 100)), r.raw = r.celsius = celsius[probe];
                writer.record(r);
            }
        }
        REQUIRE(writer.flush(Span(10'000)));
    }
    json review() const {
        std::vector<std::string> words{"ingle", "--state", path.string(), "review", "1", "--json"};
        std::vector<char*> argv;
        for (auto& word : words) argv.push_back(word.data());
        std::ostringstream out;
        cli::Context context{path, out};
        REQUIRE(cli::run_program(static_cast<int>(argv.size()), argv.data(), context) == cli::done);
        return json::parse(out.str());
    }
    std::filesystem::path path;
    logbook::WriterOptions options;
};

std::string answer(json const& review, std::string const& rule) {
    for (auto const& one : review.at("verdicts"))
        if (one.at("rule") == rule) return one.at("answer");
    return "none";
}

}  // namespace

TEST_CASE("what another probe read before the core's is not the core's credit") {
    Cooked same, changed;
    same.run("first", 1, 7200, true);
    CHECK(answer(same.review(), "core-target") == "met");

    changed.path += "-changed";
    std::filesystem::create_directories(changed.path);
    changed.options.path = (changed.path / "logbook.db").string();
    changed.run("first", 1, 6600, true);
    changed.run("second", 6600, 9600, false);
    auto const review = changed.review();
    INFO(review.at("verdicts").dump(1));
    CHECK(answer(review, "core-target") != "met");
    CHECK(answer(review, "core-target") != "none");
    CHECK(review.at("cores").at(0).at("probe") == "second");
}
