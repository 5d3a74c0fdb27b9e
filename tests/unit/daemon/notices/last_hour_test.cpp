// What a chart shows of the last hour: readings, gaps and bands, from readings and views.
#include "daemon/notices/last_hour.hpp"

#include "tests/support/catch.hpp"

using namespace ingle;

namespace {

Settings settings() {
    Settings settings;
    ProbeSettings probe;
    probe.name = "stock";
    settings.probes = {probe};
    VesselSettings pot;
    pot.name = "stockpot";
    pot.medium = 0;
    settings.vessels = {pot};
    return settings;
}

constexpr Subject pot{SubjectKind::vessel, 0};

Instant at(double seconds) {
    return Instant(Span(static_cast<std::int64_t>(seconds * 1000)));
}

Recorded reading(double seconds, double celsius, Quality quality = Quality::good) {
    Recorded one;
    one.at = at(seconds);
    one.quality = quality;
    if (quality != Quality::faulty) one.celsius = celsius;
    return one;
}

View with_band(double seconds, std::optional<Band> band) {
    View view;
    view.at = at(seconds);
    VesselView vessel;
    vessel.band = band;
    view.vessels = {vessel};
    return view;
}

}  // namespace

TEST_CASE("readings are one run, and what was not read parts them") {
    auto const given = settings();
    LastHour hour(given);
    for (int s = 0; s <= 100; ++s) hour.note(reading(s, 60));
    for (int s = 400; s <= 500; ++s) hour.note(reading(s, 70 + (s == 450 ? 5 : 0)));
    auto const chart = hour.chart(pot, at(500));
    REQUIRE(chart);
    REQUIRE(chart->runs.size() == 2);
    CHECK(chart->runs[0].back().at_s == 100);
    CHECK(chart->runs[1].front().at_s == 400);
    CHECK(chart->unread_s == 300);
    auto shown = *chart;
    shown.subject = "stockpot";
    CHECK(in_words(shown) ==
          "stockpot over the last 8 min: 60.0 degC to 75.0 degC, 5 min of it without a reading.");
}

TEST_CASE("a fault parts the line, a spike that was rejected is not drawn") {
    auto const given = settings();
    LastHour hour(given);
    for (int s = 0; s <= 60; ++s)
        hour.note(s == 30   ? reading(s, 0, Quality::faulty)
                  : s == 45 ? reading(s, 500, Quality::rejected)
                            : reading(s, 60));
    auto const chart = hour.chart(pot, at(60));
    REQUIRE(chart);
    REQUIRE(chart->runs.size() == 2);
    CHECK(chart->runs[0].back().at_s == 29);
    CHECK(chart->runs[1].front().at_s == 31);
    for (auto const& run : chart->runs)
        for (auto const& point : run) CHECK(point.high == 60);
}

TEST_CASE("an hour is kept, and a silence up to now is a gap") {
    auto const given = settings();
    LastHour hour(given);
    for (int s = 0; s <= 6000; ++s) hour.note(reading(s, s < 2000 ? 20 : 60));
    auto const chart = hour.chart(pot, at(6600));
    REQUIRE(chart);
    CHECK(chart->span_s == 3600);
    CHECK(chart->unread_s == 600);
    for (auto const& point : chart->runs.front()) CHECK(point.low == 60);
    CHECK_FALSE(hour.chart(pot, at(20'000)));
    CHECK_FALSE(hour.chart({SubjectKind::kitchen, 0}, at(6600)));
}

TEST_CASE("a band is drawn for as long as it was one") {
    auto const given = settings();
    LastHour hour(given);
    for (int s = 0; s <= 300; ++s) hour.note(reading(s, 60));
    hour.note_bands(with_band(0, {}));
    hour.note_bands(with_band(100, Band{{55}, {65}}));
    hour.note_bands(with_band(150, Band{{55}, {65}}));
    hour.note_bands(with_band(200, {}));
    auto const chart = hour.chart(pot, at(300));
    REQUIRE(chart);
    REQUIRE(chart->bands.size() == 1);
    CHECK(chart->bands[0].from_s == 100);
    CHECK(chart->bands[0].to_s == 200);
    CHECK(chart->bands[0].high == 65);
}

TEST_CASE("another kitchen file goes on with the probes that it still has") {
    auto const given = settings();
    LastHour before(given);
    for (int s = 0; s <= 100; ++s) before.note(reading(s, 60));
    LastHour after(given);
    after.continue_from(before);
    CHECK(after.chart(pot, at(100)));
    auto other = given;
    other.probes[0].name = "milk";
    LastHour elsewhere(other);
    elsewhere.continue_from(before);
    CHECK_FALSE(elsewhere.chart(pot, at(100)));
}
