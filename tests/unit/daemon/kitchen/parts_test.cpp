// A notice of a vessel that is beyond its band, as a cook reads it on a lock screen and below: where, how
// warm against which band, how fast, and where to look; for each kind of vessel. (A pot that falls is told as
// heat-lost.)
#include "tests/support/catch.hpp"
#include "tests/support/kitchen_run.hpp"

using namespace ingle;
using namespace ingle::test;

namespace {

std::string first_told(Run const& run, std::string_view alarm) {
    for (auto const& effect : run.effects())
        if (auto const* tell = std::get_if<Tell>(&effect); tell && tell->kind == "raised")
            for (auto const& one : tell->alarms)
                if (one.type->name == alarm) return tell->text;
    return "";
}

}  // namespace

TEST_CASE(
    "beyond its band: where, how warm, which band, how fast, and where to look, of each kind of vessel") {
    struct Row {
        VesselKind kind;
        bool above;
        char const* look;
    };
    for (auto const& row : {Row{VesselKind::pot, true, "Look at the heat under it, and at its lid."},
                            Row{VesselKind::bath, true, "Look at the heat under it, and at its lid."},
                            Row{VesselKind::smoker, true, "Look at its vents."},
                            Row{VesselKind::smoker, false, "Look at the fire and its fuel."},
                            Row{VesselKind::oven, true, "Look at what it is set to."},
                            Row{VesselKind::oven, false, "Look at the door, and whether it heats."},
                            Row{VesselKind::hot_box, false, "Look at the door, and whether it heats."},
                            Row{VesselKind::fridge, true, "and whether it runs."},
                            Row{VesselKind::room, true, "Look at what warms it."}}) {
        bool const cold = row.kind == VesselKind::fridge || row.kind == VesselKind::room;
        double const low = cold ? 2 : 70, high = cold ? 6 : 80;
        auto settings = one_vessel(row.kind, {{low, high}});
        settings.channels.push_back({.name = "phone", .kind = "webhook"});
        Run run(settings);
        auto const place = settings.vessels[0].name;
        double const inside = 0.5 * (low + high), outside = row.above ? high + 7 : low - 7;
        run.probe(settings.probes[0].name, probe_of([=](double minute) {
                      if (minute < 60) return inside;
                      return inside + (outside - inside) * std::min(1.0, (minute - 60) / 20);
                  }));
        run.until(240);
        auto const text = first_told(run, row.above ? "above-band" : "below-band");
        INFO(place << (row.above ? " above: " : " below: ") << text);
        CHECK(text.substr(0, 40).find(place + " is at ") != std::string::npos);
        CHECK_THAT(text, INGLE_CONTAINS(row.above ? " above its band (" : " below its band (") &&
                             INGLE_CONTAINS(" to ") && INGLE_CONTAINS(row.look));
    }
}
