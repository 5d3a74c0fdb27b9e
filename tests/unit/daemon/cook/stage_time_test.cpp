// What counts toward the time that a stage waits for.
#include "daemon/cook/stage_time.hpp"

#include "tests/support/catch.hpp"

using namespace ingle;
using std::chrono::minutes;

namespace {

Instant at(double s) {
    return Instant(from_seconds(s));
}

struct Clock {
    explicit Clock(StageSettings s) { time.begin(at(0), s); }
    void pass(double minutes_of_it, AtBand band) {
        for (double const end = now + minutes_of_it * 60; now < end;) time.step(at(++now), band);
    }
    double counted() const { return seconds(time.counted()) / 60; }
    StageTime time;
    double now = 0;
};

StageSettings simmering() {
    StageSettings s;
    s.name = "poach";
    s.band = Band{{82}, {88}};
    s.until.time = Duration{7200};
    return s;
}

}  // namespace

TEST_CASE("the time counts from the moment that the band is reached") {
    Clock c(simmering());
    c.pass(40, AtBand::outside);
    CHECK(c.counted() == 0);
    CHECK(c.time.state() == "waits for its band");
    c.pass(30, AtBand::inside);
    CHECK_THAT(c.counted(), WithinAbs(30, 0.05));
    CHECK(c.time.state() == "counts");
    CHECK_THAT(seconds(*c.time.reached() - at(0)), WithinAbs(2401, 1));
}

TEST_CASE("what is inside for a few seconds only, as a tip on its way, has not reached the band") {
    Clock c(simmering());
    c.pass(5, AtBand::rim);
    CHECK_FALSE(c.time.reached());
    c.pass(0.1, AtBand::inside);
    c.pass(20, AtBand::outside);
    CHECK(c.counted() == 0);
    CHECK(c.time.state() == "waits for its band");
    c.pass(1, AtBand::inside);
    c.pass(5, AtBand::rim);  // once reached, its deadband is inside
    CHECK_THAT(c.counted(), WithinAbs(6, 0.05));
    CHECK(c.time.state() == "counts");
}

TEST_CASE("an excursion counts up to its bound, and again once it is over") {
    auto settings = simmering();
    settings.excursion = Duration{300};
    Clock c(settings);
    c.pass(10, AtBand::inside);
    c.pass(4, AtBand::outside);
    CHECK_THAT(c.counted(), WithinAbs(14, 0.05));
    c.pass(10, AtBand::outside);
    CHECK_THAT(c.counted(), WithinAbs(15, 0.05));
    CHECK(c.time.state() == "stopped: outside its band");
    c.pass(10, AtBand::inside);
    CHECK_THAT(c.counted(), WithinAbs(25, 0.05));
    c.pass(5, AtBand::outside);  // the next one has its own bound
    CHECK_THAT(c.counted(), WithinAbs(30, 0.05));
    c.pass(20, AtBand::unknown);
    CHECK_THAT(c.counted(), WithinAbs(30, 0.05));
    CHECK(c.time.state() == "stopped: no reading");
}

TEST_CASE("from its begin where the plan says so, where it has no band, and where nothing measures one") {
    auto settings = simmering();
    SECTION("counts = from-begin") {
        settings.counts_from_begin = true;
        Clock c(settings);
        c.pass(20, AtBand::outside);
        CHECK_THAT(c.counted(), WithinAbs(20, 0.01));
    }
    SECTION("no band") {
        settings.band.reset();
        Clock c(settings);
        c.pass(20, AtBand::none);
        CHECK_THAT(c.counted(), WithinAbs(20, 0.01));
    }
    SECTION("no probe") {
        Clock c(settings);
        c.pass(20, AtBand::none);
        CHECK_THAT(c.counted(), WithinAbs(20, 0.01));
    }
}

TEST_CASE(
    "over a restart, the gap counts as an excursion where there is a band, and whole where there is none") {
    auto const off_for = [](StageSettings const& settings, double off_s) {
        Clock before(settings);
        before.pass(30, settings.band ? AtBand::inside : AtBand::none);
        Memory memory;
        before.time.remember(memory, "time.");
        StageTime after;
        after.begin(at(0), settings);
        after.recall(memory, "time.");
        after.step(at(before.now + off_s), settings.band ? AtBand::inside : AtBand::none);
        return seconds(after.counted()) / 60;
    };
    CHECK_THAT(off_for(simmering(), 300), WithinAbs(35, 0.1));
    CHECK_THAT(off_for(simmering(), 7200), WithinAbs(40, 0.1));  // 10 min of it
    auto plain = simmering();
    plain.band.reset();
    CHECK_THAT(off_for(plain, 7200), WithinAbs(150, 0.1));
}

TEST_CASE("time that nobody read counts when the next reading has come, within the bound, and never before") {
    auto settings = simmering();
    settings.excursion = Duration{600};
    Clock c(settings);
    c.pass(10, AtBand::inside);
    c.pass(5, AtBand::unknown);
    CHECK_THAT(c.counted(), WithinAbs(10, 0.05));
    CHECK(c.time.state() == "stopped: no reading");
    c.pass(1, AtBand::inside);
    CHECK_THAT(c.counted(), WithinAbs(16, 0.05));
    c.pass(30, AtBand::unknown);
    CHECK_THAT(c.counted(), WithinAbs(16, 0.05));
    Memory memory;
    c.time.remember(memory, "x.");
    StageTime again;
    again.begin(at(0), settings);
    again.recall(memory, "x.");
    again.step(at(c.now + 1), AtBand::inside);
    CHECK_THAT(seconds(again.counted()) / 60, WithinAbs(26, 0.1));
    CHECK(again.state() == "counts");
}
