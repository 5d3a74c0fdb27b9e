// ingle schedule: what must begin when, so that every dish is ready at its serving time.
#include <algorithm>
#include <chrono>
#include <fstream>
#include <memory>
#include <ostream>

#include "daemon/planning/document.hpp"
#include "daemon/wiring/kitchen_file.hpp"
#include "tools/cli/output/text.hpp"
#include "tools/cli/past/book.hpp"
#include "tools/cli/program/files.hpp"
#include "tools/cli/schedule/icalendar.hpp"
#include "tools/cli/schedule/inputs.hpp"
#include "tools/cli/schedule/schedule_text.hpp"
#include "tools/cli/time/local_time.hpp"
#include "tools/cli/time/moment.hpp"

namespace ingle::cli {
namespace {

struct Options {
    std::string kitchen, at, ics;
    bool json = false;
};

// The one that was named, else that of the running daemon.
std::string file_of(Context& context, Options const& given) {
    if (!given.kitchen.empty()) return given.kitchen;
    try {
        auto const now = Client(context.socket()).get("/api/now");
        auto const file = now.value("daemon", Json::object()).value("kitchen_file", Json());
        if (file.is_string()) return file.get<std::string>();
    } catch (NoDaemon const&) {
    }
    throw Failure("say whose: --kitchen kitchen.toml (no daemon runs here, whose kitchen it could be)",
                  wrong_usage);
}

Settings kitchen_of(std::string const& file) {
    auto loaded = load_kitchen_and_plans(file);
    if (loaded.errors.empty()) return std::move(loaded.settings);
    std::string all;
    for (auto const& error : loaded.errors) all += (all.empty() ? "" : "\n") + error.text();
    throw Failure(all, wrong_usage);
}

schedule::Seconds seconds_of(WallTime at) {
    return std::chrono::floor<std::chrono::minutes>(at).time_since_epoch() / std::chrono::seconds(1);
}

// From which moment: as it was asked, else now.
schedule::Seconds begin_of(Options const& given) {
    if (given.at.empty()) return seconds_of(wall_now());
    auto const moment = parse_moment(given.at, wall_now(), Toward::future);
    if (!moment.at) throw Failure("--at: " + moment.wrong, wrong_usage);
    return seconds_of(*moment.at);
}

// What cooks now is part of a plan from now on or from later; what cooked at a time that is over is not
// known.
std::vector<schedule::Running> live(Context& context, Settings const& settings, schedule::Seconds at) {
    auto const now = seconds_of(wall_now());
    if (at < now) return {};
    try {
        // By the second: a begin is told as it was, not as the minute that is planned from has it.
        auto const second =
            std::chrono::floor<std::chrono::seconds>(wall_now()).time_since_epoch() / std::chrono::seconds(1);
        auto running = running_dishes(Client(context.socket()).get("/api/now"), settings, second);
        for (auto& dish : running)
            for (auto* left : {&dish.left_s, &dish.left_low_s, &dish.left_high_s, &dish.clock_left_s})
                if (*left) *left = std::max(0.0, **left - static_cast<double>(at - now));
        return running;
    } catch (NoDaemon const&) {
        return {};
    }
}

int plan(Context& context, Options const& given) {
    auto const settings = kitchen_of(file_of(context, given));
    tell_times_in(settings.zone);
    auto const& zone = local_zone();
    auto const at = begin_of(given);
    schedule::Wanted const wanted{settings, zone, at, live(context, settings, at),
                                  past_stages(context, settings)};
    auto const made = schedule::make_schedule(wanted);
    if (!given.ics.empty()) {
        refuse_to_replace_another_kind(given.ics, "BEGIN:VCALENDAR");
        std::ofstream file(given.ics, std::ios::binary);
        file << calendar(made, settings);
        if (!file.flush()) throw Failure(given.ics + " cannot be written");
    }
    if (given.json)
        context.out << schedule::schedule_document(made, settings, zone);
    else
        context.out << schedule_text({made, settings, zone, terminal().width});
    return made.fits ? done : no;
}

}  // namespace

void add_schedule(Verb const& app, Context& context) {
    auto const given = std::make_shared<Options>();
    auto const command =
        app.verb("schedule", "what must begin when, so that every dish is ready at its serve-at",
                 "  ingle schedule --kitchen kitchen.toml\n"
                 "  ingle schedule --kitchen kitchen.toml --at \"tomorrow 8 am\" --ics supper.ics");
    command.option(
        "--kitchen", given->kitchen,
        "the kitchen file, with the serve-at of its dishes; without it, that of the running daemon");
    command.option("--at", given->at,
                   "plan from then on (\"5 pm\", \"tomorrow 8:00\"), else from now; what cooks now counts "
                   "where it is to come");
    command.option("--ics", given->ics, "write it to this file as a calendar (RFC 5545), too");
    command.flag("--json", given->json, "answer in JSON");
    command.does([&context, given] { return plan(context, *given); });
}

}  // namespace ingle::cli
