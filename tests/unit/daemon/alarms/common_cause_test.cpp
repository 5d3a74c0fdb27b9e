// Several alarms of one kind at once are one notice. That probes fail in one moment speaks for what they
// share; that vessels leave their bands in one moment speaks for nothing, and no common cause is named.
#include "tests/support/catch.hpp"
#include "tests/unit/daemon/alarms/desk_bench.hpp"

using namespace ingle;
using namespace ingle::test;

TEST_CASE("one cause is named of probes that fail at once, and of nothing else") {
    auto const told = [](AlarmType const& type, std::vector<Subject> const& subjects) {
        Bench bench;
        std::vector<Judged> findings;
        for (auto const& subject : subjects) findings.push_back(judged(type, subject, true));
        bench.run(60, findings);
        std::string all;
        for (auto const& tell : bench.tells("raised")) all += tell.text + "\n";
        return all;
    };
    auto const probes = told(silent, {probe(0), probe(1), probe(2)});
    CHECK_THAT(probes, INGLE_CONTAINS("3 at once: probe-silent of p1, p2, p3"));
    CHECK_THAT(probes, INGLE_CONTAINS("one cause"));
    auto const vessels = told(above, {pot, smoker, fridge});
    CHECK_THAT(vessels, INGLE_CONTAINS("3 at once: above-band of stockpot, smoker, fridge"));
    CHECK_THAT(vessels, !INGLE_CONTAINS("cause"));
    CHECK_THAT(told(silent, {probe(0), probe(1)}), !INGLE_CONTAINS("cause"));
}
