// ingle doctor: is everything in order, and what to do if not.
#include <unistd.h>

#include <algorithm>
#include <cerrno>
#include <memory>
#include <ostream>

#include "config/civil_time/iso_time.hpp"
#include "daemon/logbook/doctor.hpp"
#include "daemon/notices/notifier.hpp"
#include "daemon/wiring/kitchen_file.hpp"
#include "tools/cli/output/text.hpp"
#include "tools/cli/past/book.hpp"
#include "tools/cli/program/client.hpp"
#include "tools/cli/program/page.hpp"
#include "tools/cli/setup/doctor_report.hpp"
#include "tools/cli/time/local_time.hpp"

namespace ingle::cli {
namespace {

enum class Health { well, look, ill };

struct Finding {
    std::string what;
    Health health;
    std::string text;
};

constexpr std::uintmax_t low_space = 200ULL
                                     << 20;  // a month of a whole kitchen's readings, several times over

// What a restart did not take up is to be done anew by somebody.
constexpr std::chrono::hours shown_for{7 * 24};

std::string word(Json const& json, char const* key) {
    auto const found = json.find(key);
    return found != json.end() && found->is_string() ? found->get<std::string>() : "";
}

void look_at_folder(Context const& context, std::vector<Finding>& found) {
    std::error_code error;
    if (!std::filesystem::is_directory(context.state, error)) {
        found.push_back(
            {"state folder", Health::ill,
             context.state.string() + " is not there; start `ingled`, or name the folder with --state"});
        return;
    }
    bool const writable = access(context.state.c_str(), R_OK | W_OK | X_OK) == 0;
    found.push_back({"state folder", writable ? Health::well : Health::look,
                     context.state.string() +
                         (writable ? "" : " may not be written by this user (the daemon's user must)")});
    auto const space = std::filesystem::space(context.state, error);
    // Where there is a logbook, it is told with how long it is enough for.
    if (!error && !std::filesystem::exists(context.logbook(), error)) {
        found.push_back({"space", space.available < low_space ? Health::ill : Health::well,
                         std::to_string(space.available >> 20) + " MiB free" +
                             (space.available < low_space ? "; make room, or the logbook will stop" : "")});
    }
}

bool carries_notices(Json const& channel) {
    auto const* kind = find_notifier(word(channel, "kind"));
    return !kind || kind->carries_notices;
}

// The daemon goes on with what it read; a restart would not.
void look_at_kitchen_file(std::string const& file, std::vector<Finding>& found) {
    if (access(file.c_str(), R_OK) != 0 && errno == EACCES) return;  // it is for the daemon's user alone
    auto const loaded = load_kitchen_for_use(file);
    found.push_back({"kitchen file", loaded.errors.empty() ? Health::well : Health::ill,
                     loaded.errors.empty()
                         ? file
                         : "as it stands it cannot be used, and the next start would fail: " +
                               loaded.errors.front().text()});
}

void look_at_daemon(Json const& now, std::vector<Finding>& found) {
    auto const& daemon = now.at("daemon");
    found.push_back({"daemon", Health::well,
                     "version " + word(daemon, "version") + ", running for " +
                         length_text(daemon.value("running_s", 0.0))});
    if (auto const file = word(daemon, "kitchen_file"); !file.empty()) look_at_kitchen_file(file, found);
    bool const recording = daemon.value("recording", false);
    auto const lost = daemon.value("readings_lost", 0);
    found.push_back({"recording",
                     !recording ? Health::ill
                     : lost > 0 ? Health::look
                                : Health::well,
                     recording
                         ? "readings reach the logbook" +
                               (lost > 0 ? ", but " + std::to_string(lost) + " were lost" : std::string())
                         : "not recording: " + word(daemon, "recording_trouble")});
    bool const known = word(now, "clock") != "unknown";
    auto const at = known ? parse_iso_time(word(now, "at")) : std::nullopt;
    bool const vouched_for = daemon.value("clock_proven", true);
    found.push_back(
        {"clock", known && vouched_for ? Health::well : Health::look,
         at ? "it is " + time_text(*at) +
                  (vouched_for ? ""
                               : ", if this machine is right: no time service and no clock battery "
                                 "vouches for it")
            : "the time is not known; connect to the network, or fit a clock battery"});
    for (auto const& probe : now.at("probes")) {
        auto const name = "probe " + word(probe, "name");
        auto const trouble = word(probe, "trouble"), reason = word(probe, "reason");
        if (!trouble.empty())
            found.push_back({name, Health::ill, trouble});
        else if (!reason.empty())
            found.push_back({name, Health::ill, reason});
        else
            found.push_back(
                {name, Health::well, age_text(probe.value("age_s", 0.0)) + ", " + word(probe, "quality")});
    }
    for (auto const& channel : daemon.at("channels"))
        if (auto const trouble = word(channel, "trouble"); !trouble.empty())
            found.push_back({"channel " + word(channel, "name"), Health::ill, trouble});
    if (std::ranges::none_of(daemon.at("channels"), carries_notices)) {
        found.push_back({"channels", Health::look,
                         "there is none for notices: nobody is notified of an alarm; add a [[channel]]"});
    }
}

// Those that do not fail; what delivered when is in the logbook.
void look_at_channels(Json const& notices, std::vector<Finding>& found) {
    for (auto const& channel : notices.at("channels")) {
        auto const name = word(channel, "name"), state = word(channel, "state");
        if (state == "failing") continue;
        auto const at = parse_iso_time(word(channel, "last_delivered"));
        auto text = at ? "last delivered " + time_text(*at) : word(channel, "reason");
        if (state != "proven")
            text +=
                (at ? ", more than a week ago" : "") + std::string("; try it: ingle notices test ") + name;
        found.push_back(
            {"channel " + name, state == "proven" ? Health::well : Health::look, std::move(text)});
    }
}

Health health_of(logbook::Finding::Level level) {
    switch (level) {
        case logbook::Finding::Level::good:
            return Health::well;
        case logbook::Finding::Level::doubtful:
            return Health::look;
        case logbook::Finding::Level::bad:
            break;
    }
    return Health::ill;
}

void look_at_logbook(Context const& context, std::vector<Finding>& found) {
    try {
        Book book(context, "");
        auto const extent = book.reader().extent();
        book.check();
        found.push_back(
            {"logbook", Health::well,
             extent ? "from " + time_text(extent->from) + " to " + time_text(extent->to) : "empty so far"});
        auto const now = wall_now();
        for (auto const& event : book.reader().events({now - shown_for, now}, "not-restored"))
            found.push_back({"restart", Health::look, time_text(event.at.wall) + ": " + event.text});
    } catch (Failure const& failure) {
        found.push_back({"logbook", Health::ill, failure.what()});
    }
    std::error_code error;
    if (!std::filesystem::exists(context.logbook(), error)) return;
    for (auto const& one : logbook::examine(context.logbook().string())) {
        found.push_back({"logbook: " + one.subject, health_of(one.level),
                         one.text + (one.remedy.empty() ? "" : "; " + one.remedy)});
    }
}

struct Looked {
    std::vector<Finding> found;
    std::string kitchen_file;  // that the daemon runs by; "" = none runs
};

Looked look(Context const& context) {
    Looked looked;
    auto& found = looked.found;
    look_at_folder(context, found);
    try {
        Client const client(context.socket());
        auto const now = client.get("/api/now");
        looked.kitchen_file = word(now.at("daemon"), "kitchen_file");
        look_at_daemon(now, found);
        look_at_channels(client.get("/api/notices"), found);
    } catch (Failure const& failure) {
        found.push_back({"daemon", Health::ill, failure.what()});
    }
    look_at_logbook(context, found);
    return looked;
}

int doctor(Context& context, std::string const& report, bool json) {
    auto const looked = look(context);
    auto const& found = looked.found;
    bool ill = false;
    Json list = Json::array();
    Table table;
    for (auto const& one : found) {
        ill = ill || one.health == Health::ill;
        char const* const mark = one.health == Health::well   ? "ok"
                                 : one.health == Health::look ? "WARN"
                                                              : "FAIL";
        table.row({mark, one.what, one.text});
        list.push_back({{"what", one.what}, {"health", mark}, {"text", one.text}});
    }
    if (!report.empty()) {
        write_private(report, doctor_report(context, table.text(""), looked.kitchen_file));
        context.out << "The report is in " << report
                    << ". Secrets are left out; read it before you hand it on.\n";
        return done;
    }
    if (json) {
        context.out << Json{{"well", !ill}, {"findings", list}}.dump(2, ' ', false,
                                                                     Json::error_handler_t::replace)
                    << "\n";
    } else {
        context.out << table.text("");
    }
    return ill ? no : done;
}

}  // namespace

void add_doctor(Verb const& app, Context& context) {
    auto command = app.verb("doctor", "is everything in order, and what to do if not",
                            "  ingle doctor\n  ingle doctor --report report.txt");
    auto const report = std::make_shared<std::string>();
    auto const json = std::make_shared<bool>(false);
    command.option("--report", *report,
                   "write what can be attached to a question to this new file, without secrets");
    command.flag("--json", *json, "answer in JSON");
    command.does([&context, report, json] {
        return on_a_page(context, [&](Context& page) { return doctor(page, *report, *json); });
    });
}

}  // namespace ingle::cli
