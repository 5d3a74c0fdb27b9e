// The sentence for a vessel: what the core says, no more.
#include "daemon/web/sentences.hpp"

#include "tests/support/catch.hpp"

using namespace ingle;

namespace {

constexpr Instant moment{Span{60'000}};

VesselView pot(std::string phase) {
    VesselView vessel;
    vessel.name = "stockpot";
    vessel.band = Band{{82}, {88}};
    vessel.phase = std::move(phase);
    return vessel;
}

ProbeView probe(std::optional<double> slope) {
    ProbeView view;
    view.name = "stock";
    view.celsius = 85;
    view.age = Span{0};
    view.fresh = true;
    view.slope_k_per_min = slope;
    return view;
}

std::string sentence(VesselView const& vessel, ProbeView const& view) {
    return vessel_sentence(vessel, &view, TemperatureUnit::celsius, moment);
}

}  // namespace

TEST_CASE("state, trend, forecast less its age, and which way to turn") {
    auto vessel = pot("in band");
    vessel.forecast = Forecast{moment - Span{10'000}, "leaving-band", {}, 550, 430, 730, 0.8, ""};
    vessel.advice = "turn down a little";
    CHECK(
        sentence(vessel, probe(0.5)) ==
        "In its band, rising 0.5 degC/min; leaves it in about 9 min (7 min to 12 min). Turn down a little.");
    vessel.forecast->why = "straight-line estimate; may be later";  // no firmer than it is
    CHECK_THAT(
        sentence(vessel, probe(0.5)),
        INGLE_CONTAINS("(7 min to 12 min); straight-line estimate; may be later. Turn down a little."));
    vessel.phase = "above band";  // what has left needs no forecast of leaving
    CHECK(sentence(vessel, probe(0.5)) == "Above its band, rising 0.5 degC/min. Turn down a little.");
}

TEST_CASE("what cannot be forecast and what has no trend is not told") {
    auto vessel = pot("warming up");
    vessel.forecast = Forecast{moment, "boiling", {}, {}, {}, {}, 0.8, "too noisy"};
    CHECK(sentence(vessel, probe({})) == "Warming up to its band.");
    CHECK(sentence(pot("in band"), probe(0.01)) == "In its band, steady.");
    CHECK(sentence(pot("no band"), probe(-1.4)) == "Not held to a band, falling 1.4 degC/min.");
    CHECK(sentence(pot("door open?"), probe({})) == "Door open, as it seems.");
}

TEST_CASE("without a reading nothing is told but why") {
    auto const vessel = pot("in band");
    CHECK(vessel_sentence(vessel, nullptr, TemperatureUnit::celsius, moment) ==
          "No probe is in it: what it does is not known.");
    auto gone = probe(0.5);
    gone.fresh = false;
    gone.age = Span{240'000};
    CHECK(sentence(vessel, gone) == "Not known: the last reading is 4 min old.");
    gone.fault = Fault{FaultKind::open, "open: the wire is broken"};
    CHECK(sentence(vessel, gone) == "Not known: open: the wire is broken.");
    gone.fresh = true;  // the last value is young, but the newest reading was a fault
    CHECK(sentence(vessel, gone) == "Not known: open: the wire is broken.");
    gone = ProbeView{};
    CHECK(sentence(vessel, gone) == "Not known: no reading yet.");
}
