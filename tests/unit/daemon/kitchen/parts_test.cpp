// A notice of a vessel that is beyond its band, as a cook reads it on a lock screen and below: where, how
// warm against which band, how fast, and where to look; for each kind of vessel. (A pot that falls is told as
// heat-lost.)
#include "daemon/kitchen/impl.hpp"
#include "daemon/watches/registry.hpp"
#include "tests/support/catch.hpp"
#include "tests/support/kitchen_run.hpp"
#include "tests/support/orders.hpp"

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
    "beyond its band: where, how warm, which band, how fast, where to look and which way to turn, of each "
    "kind of vessel") {
    struct Row {
        VesselKind kind;
        bool above;
        char const* look;
    };
    for (auto const& row :
         {Row{VesselKind::pot, true, "Turn the heat down"}, Row{VesselKind::bath, true, "Turn the heat down"},
          Row{VesselKind::smoker, true, "Close its vents a little."},
          Row{VesselKind::smoker, false, "if it burns well, open its vents"},
          Row{VesselKind::oven, true, "set it lower."},
          Row{VesselKind::oven, false, "if it does, set it higher."},
          Row{VesselKind::hot_box, false, "if it does, set it higher."},
          Row{VesselKind::fridge, true, "whether it runs; if it does, set it colder."},
          Row{VesselKind::fridge, false, "Set it a little warmer."},
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

TEST_CASE("what the food asks for goes before the way back into a band, however far outside it is") {
    auto settings = one_vessel(VesselKind::hot_box, {{60, 74}});
    auto& dish = add_dish(settings, "stew", 0, add_probe(settings, "core"), "stock");
    dish.plan = "hold";
    PlanSettings plan;
    plan.name = "hold";
    StageSettings stage;
    stage.name = "hold";
    stage.vessel = 0;
    stage.does = Does::hot_hold;
    plan.stages.push_back(std::move(stage));
    plan.stage_vessels.emplace_back();
    settings.plans.push_back(std::move(plan));
    Run run(settings);
    run.probe("p", probe_of([](double minute) -> std::optional<double> {
                  return minute < 40 ? 68 : std::min(110.0, 68 + 4 * (minute - 40));
              }));
    run.probe("core", probe_of([](double minute) -> std::optional<double> {
                  return minute < 20 ? 66 : std::max(48.0, 66 - (minute - 20));
              }));
    run.tell(Begin{0});
    bool both = false;
    for (int minute = 1; minute < 110; ++minute) {
        run.until(minute);
        auto const view = run.kitchen().view();
        INFO(minute);
        CHECK(opposing(view).empty());
        Alarm const *band = nullptr, *food = nullptr;
        for (auto const& alarm : view.alarms) {
            if (alarm.active && alarm.type->name == "above-band") band = &alarm;
            if (alarm.active && alarm.type->name == "hot-hold") food = &alarm;
        }
        if (!band || !food || band->priority != Priority::high || food->action != Action::reheat) continue;
        both = true;
        CHECK(band->action == Action::none);
        CHECK(band->text.find("set it lower") == std::string::npos);
    }
    CHECK(both);
}

TEST_CASE("each alarm whose end is told says in words what is so then") {
    std::vector<std::span<AlarmType const>> all{cook_alarms(),   timer_alarms(),    reminder_alarms(),
                                                food_alarms(),   conflict_alarms(), unwatched_alarms(),
                                                kitchen_alarms()};
    for (auto const* watch : watches()) all.push_back(watch->alarms);
    for (auto const& some : all)
        for (auto const& type : some) {
            INFO(type.name);
            CHECK((type.over.empty() == (type.prompt || type.good_news)));
            CHECK(type.over.find(type.name) == std::string_view::npos);
        }
}
