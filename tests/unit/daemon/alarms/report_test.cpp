#include "daemon/alarms/report.hpp"

#include <algorithm>

#include "tests/support/catch.hpp"
#include "tests/unit/daemon/alarms/desk_bench.hpp"

using namespace ingle;
using namespace ingle::test;
using std::chrono::hours;
using std::chrono::minutes;

namespace {

struct Past {
    std::vector<PastTransition> rows;
    std::int64_t id = 0;
    void spell(double from, double to, std::string alarm, std::string subject,
               Priority priority = Priority::medium) {
        rows.push_back({at(from), Transition::raised, ++id, alarm, subject, priority});
        if (to > 0) rows.push_back({at(to), Transition::cleared, id, alarm, subject, priority});
    }
    AlarmReport report(double from, double to) {
        std::stable_sort(rows.begin(), rows.end(), [](auto const& a, auto const& b) { return a.at < b.at; });
        return report_on(rows, at(from), at(to));
    }
};

}  // namespace

TEST_CASE("rates, peak, standing and acknowledged, counted by hand") {
    Past past;
    past.spell(-3600, 1800, "below-band", "smoker");  // raised before the span
    past.spell(600, 4200, "above-band", "stockpot");
    past.spell(900, 1500, "leaving-band", "stockpot", Priority::low);
    past.spell(1100, 1400, "boil-over-risk", "stockpot", Priority::high);
    past.spell(20000, 0, "cold-hold", "fridge", Priority::high);  // never ends
    past.rows.push_back({at(660), Transition::acknowledged, 2, "above-band", "stockpot", {}});
    past.rows.push_back({at(1200), Transition::acknowledged, 4, "boil-over-risk", "stockpot", {}});
    AlarmReport const r = past.report(0, 36 * 3600);
    CHECK(r.raised == 4);
    CHECK(r.by_priority == std::array{1, 1, 2});
    CHECK_THAT(r.per_hour, WithinAbs(4 / 36.0, 1e-12));
    CHECK(r.peak_in_10_min == 3);
    CHECK(r.peak_at == at(600));
    CHECK(r.stale == 1);  // the fridge: 109 600 s
    REQUIRE(r.longest.size() == 5);
    CHECK(r.longest[0].subject == "fridge");
    CHECK(r.longest[0].still);
    CHECK(r.longest[1].length == from_seconds(5400));  // the smoker, its time before the span included
    CHECK_THAT(*r.acknowledged, WithinAbs(0.5, 1e-12));
    CHECK(*r.median_to_acknowledge == from_seconds(60));
    CHECK(r.nuisances.empty());
    CHECK_THAT(in_words(r)[0], INGLE_CONTAINS("4 alarms in 1 day 12 h"));
}

TEST_CASE("chattering: three within a minute, and the off-delay that would have joined them") {
    Past past;
    for (int i = 0; i < 6; ++i) past.spell(1000 + 20 * i, 1010 + 20 * i, "above-band", "stockpot");
    past.spell(9000, 9600, "above-band", "smoker");
    AlarmReport const r = past.report(0, 36000);
    CHECK(r.chattering == 1);
    REQUIRE(r.nuisances.size() == 1);
    Nuisance const& n = r.nuisances[0];
    CHECK(n.subject == "stockpot");
    CHECK(n.why == "chattering");
    CHECK(n.raised == 6);
    // All six are gone within 10 s: an on-delay prevents one more than joining them.
    CHECK(n.on_delay == std::chrono::seconds(30));
    CHECK(n.prevented == 6);

    SECTION("the deadband comes from the readings between the spells") {
        std::vector<std::pair<Instant, double>> const readings{
            {at(1005), 70.1}, {at(1015), 69.7}, {at(1025), 70.2}, {at(1035), 69.9}, {at(5000), 60}};
        CHECK_THAT(deadband_to_join(readings, n.spells, 70), WithinAbs(0.3, 1e-9));
    }
}

TEST_CASE("coming back: long spells with short gaps want an off-delay") {
    Past past;
    for (int i = 0; i < 4; ++i) past.spell(1000 + 400 * i, 1300 + 400 * i, "below-band", "smoker");
    AlarmReport const r = past.report(0, 36000);
    REQUIRE(r.nuisances.size() == 1);
    CHECK(r.nuisances[0].why == "coming back");
    CHECK(r.nuisances[0].off_delay == minutes(2));
    CHECK(r.nuisances[0].prevented == 3);
    CHECK_FALSE(r.nuisances[0].on_delay);
    CHECK_THAT(in_words(r).back(), INGLE_CONTAINS("An off-delay of 2 min would have prevented 3"));
}

TEST_CASE("what the desk folded itself still counts as chattering") {
    std::vector<PastTransition> const rows{
        {at(10), Transition::raised, 1, "above-band", "stockpot", {}, 1},
        {at(20), Transition::cleared, 1, "above-band", "stockpot", {}, 1},
        {at(30), Transition::raised, 1, "above-band", "stockpot", {}, 2},
        {at(900), Transition::cleared, 1, "above-band", "stockpot", {}, 9}};
    AlarmReport const r = report_on(rows, at(0), at(3600));
    REQUIRE(r.nuisances.size() == 1);
    CHECK(r.nuisances[0].raised == 9);
    CHECK(r.nuisances[0].why == "chattering");
}

TEST_CASE("ten minutes are ten minutes") {
    Past past;
    past.spell(0, 300, "above-band", "stockpot");
    past.spell(599, 900, "above-band", "smoker");
    past.spell(600, 900, "above-band", "fridge");
    AlarmReport const r = past.report(0, 3600);
    CHECK(r.peak_in_10_min == 2);
    CHECK(r.peak_at == at(0));
}

TEST_CASE("nothing happened") {
    AlarmReport const r = report_on({}, at(0), at(3600));
    CHECK(r.per_hour == 0);
    CHECK_FALSE(r.acknowledged);
    CHECK_FALSE(r.peak_at);
    CHECK(in_words(r).size() == 1);
}
