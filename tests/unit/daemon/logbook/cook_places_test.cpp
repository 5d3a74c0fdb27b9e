// What a past cook was read with: by the kitchen file of its time, its stages, and what was changed
// meanwhile.
#include "daemon/logbook/cook_places.hpp"

#include "tests/support/catch.hpp"
#include "tests/unit/daemon/logbook/support.hpp"

using namespace ingle;
using namespace ingle::logbook;
using namespace ingle::logbook::testing;

namespace {

std::string kitchen_with(std::string const& dish) {
    std::string text = "[kitchen]\nname = \"village hall\"\nunits = \"degC\"\naltitude = \"0 m\"\n";
    for (std::string const name : {"smoke", "pass", "oven-air", "boar-core", "spare"})
        text += "[[probe]]\nname = \"" + name + "\"\ndriver = \"simulated\"\nof = \"hall\"\n";
    text += "[[vessel]]\nname = \"smoker\"\nkind = \"smoker\"\nmedium = \"smoke\"\n";
    text += "[[vessel]]\nname = \"keep-hot\"\nkind = \"oven\"\nmedium = \"pass\"\n";
    text += "[[vessel]]\nname = \"oven\"\nkind = \"oven\"\nmedium = \"oven-air\"\n";
    return text + dish;
}
std::string const shoulder =
    "[[dish]]\nname = \"boar\"\nvessel = \"smoker\"\ncore = \"boar-core\"\nfood = \"bear-boar\"\n";

// One run of the daemon on a kitchen file, `at` ms after the boot.
struct Run {
    Run(std::string const& path, std::string const& kitchen, std::int64_t at)
        : writer(options(path, kitchen, at), {}) {
        REQUIRE(writer.resume(Span(10'000)).recording);
    }
    static WriterOptions options(std::string const& path, std::string const& kitchen, std::int64_t at) {
        auto o = options_for(path);
        o.settings = kitchen, o.dishes = {"boar"}, o.started = Instant(Span(at));
        return o;
    }
    void stage(std::int64_t at, int number, int vessel) {
        Event e{Instant(Span(at)), "stage-began", {SubjectKind::dish, 0}, "boar: a stage.", {}};
        e.numbers = {{"cook", 1}, {"stage", number}, {"of", 3}};
        if (vessel >= 0) e.numbers.emplace_back("vessel", vessel);
        writer.record(e);
    }
    void end() { REQUIRE(writer.flush(Span(10'000))); }
    Writer writer;
};

// "smoker smoke 10-500, ..." in seconds since the boot.
std::string told(std::vector<Place> const& places) {
    std::string out;
    auto const s = [](Moment const& at) {
        return std::to_string((at.wall.time_since_epoch().count() - midnight) / 1000);
    };
    for (auto const& one : places) {
        out += (out.empty() ? "" : ", ") + one.vessel + (one.vessel.empty() ? "" : " ");
        out += (one.probe.empty() ? "-" : one.probe) + " " + s(one.from) + "-" + (one.to ? s(*one.to) : "");
    }
    return out;
}

ReadWith read_back(std::string const& path) {
    Reader reader(path);
    auto const cooks = reader.cooks();
    REQUIRE(cooks.size() == 1);
    CookPlaces places(reader, everything());
    auto found = places.read_with(cooks[0]);
    REQUIRE(found);
    return *found;
}

}  // namespace

TEST_CASE("a dish that moved on was read with each vessel while it was in it") {
    Scratch dir;
    auto const path = dir / "l.db";
    {
        Run run(path, kitchen_with(shoulder), 1000);
        run.writer.cook_begun({1, "boar", "bear-boar", "smoke-and-hold", Instant(Span(10'000))});
        run.stage(10'000, 1, 0);
        run.stage(500'000, 2, 1);
        run.stage(700'000, 3, -1);
        run.writer.cook_ended(1, Instant(Span(900'000)));
        run.end();
    }
    {  // today nobody has such a dish
        Run run(path, kitchen_with(""), 1'000'000);
        run.end();
    }
    auto const found = read_back(path);
    CHECK(told(found.cores) == "boar-core 10-900");
    CHECK(told(found.vessels) == "smoker smoke 10-500, keep-hot pass 500-700");
}

TEST_CASE("a kitchen file that is changed during a cook changes what it is read with from then on") {
    Scratch dir;
    auto const path = dir / "l.db";
    auto moved = shoulder;
    moved.replace(moved.find("smoker"), 6, "oven");
    moved.replace(moved.find("boar-core"), 9, "spare");
    bool const own_vessel = GENERATE(false, true);  // the stage has one of its own in its plan
    {
        Run run(path, kitchen_with(shoulder), 1000);
        run.writer.cook_begun({1, "boar", "bear-boar", "smoke", Instant(Span(10'000))});
        run.stage(10'000, 1, own_vessel ? 1 : 0);
        run.end();
    }
    Run run(path, kitchen_with(moved), 300'000);
    run.writer.record(good(0, 400'000, 90));
    run.end();
    auto const found = read_back(path);
    CHECK(told(found.cores) == "boar-core 10-300, spare 300-");
    CHECK(told(found.vessels) ==
          (own_vessel ? "keep-hot pass 10-" : "smoker smoke 10-300, oven oven-air 300-"));
}

TEST_CASE("what an order made of a cook counts no more when that was taken back") {
    Scratch dir;
    auto const path = dir / "l.db";
    {
        Run run(path, kitchen_with(shoulder), 1000);
        run.writer.cook_begun({1, "boar", "bear-boar", "smoke-and-hold", Instant(Span(10'000))});
        run.stage(10'000, 1, 0);
        run.stage(500'000, 2, 1);
        Event back{Instant(Span(560'000)), "taken-back", {SubjectKind::dish, 0}, "boar goes on.", {}};
        back.numbers = {{"given_s", 60}};
        run.writer.record(back);
        run.writer.cook_ended(1, Instant(Span(900'000)));
        run.end();
    }
    CHECK(told(read_back(path).vessels) == "smoker smoke 10-900");
}

TEST_CASE("without a kitchen file that has the dish, what it was read with is not known") {
    Scratch dir;
    auto const path = dir / "l.db";
    {
        Run run(path, kitchen_with(""), 1000);
        run.writer.cook_begun({1, "boar", "bear-boar", "smoke", Instant(Span(10'000))});
        run.stage(10'000, 1, 0);
        run.writer.cook_ended(1, Instant(Span(900'000)));
        run.end();
    }
    Reader reader(path);
    CookPlaces places(reader, everything());
    CHECK_FALSE(places.read_with(reader.cooks().front()));
}

TEST_CASE("a core that was named after the begin is the core of the whole cook, as in its review") {
    Scratch dir;
    auto const path = dir / "l.db";
    auto without = shoulder;
    without.erase(without.find("core = "), std::string("core = \"boar-core\"\n").size());
    {
        Run run(path, kitchen_with(without), 1000);
        run.writer.cook_begun({1, "boar", "bear-boar", "smoke", Instant(Span(10'000))});
        run.stage(10'000, 1, 0);
        run.end();
    }
    Run run(path, kitchen_with(shoulder), 300'000);
    run.writer.cook_ended(1, Instant(Span(900'000)));
    run.end();
    CHECK(told(read_back(path).cores) == "boar-core 10-900");
}
