// ingle ack: "seen". ingle shelve: silence one alarm for a while; both take a number, or the name of an alarm
// or of what it is about.
#include <memory>
#include <ostream>

#include "config/did_you_mean.hpp"
#include "config/quantity.hpp"
#include "tools/cli/program/client.hpp"

namespace ingle::cli {
namespace {

// What is known has no alarm at present; what is nearly the name of something here was mistyped.
void refuse_mistyped(Client const& client, Json const& alarms, std::string const& which) {
    if (which.find_first_not_of("0123456789") == std::string::npos) return;
    std::vector<std::string> known{"kitchen", "all"};
    auto const now = client.get("/api/now");
    for (char const* key : {"vessels", "dishes", "probes"})
        for (auto const& one : now.at(key)) known.push_back(one.at("name").get<std::string>());
    for (auto const& alarm : alarms) known.push_back(alarm.at("alarm").get<std::string>());
    auto const meant = did_you_mean(which, known);
    if (!meant.empty() && std::ranges::find(known, which) == known.end())
        throw Failure("nothing is called \"" + which + "\"; see `ingle alarms`" + meant, wrong_usage);
}

// The alarms that are meant: "#12", "12", "leaving-band", "stockpot".
std::vector<Json> matching(Client const& client, std::string which) {
    if (which.starts_with('#')) which.erase(0, 1);
    std::vector<Json> found;
    auto const answer = client.get("/api/alarms");
    for (auto const& alarm : answer.at("alarms")) {
        if (std::to_string(alarm.at("id").get<std::int64_t>()) == which || alarm.at("alarm") == which ||
            alarm.at("subject") == which) {
            found.push_back(alarm);
        }
    }
    if (found.empty() && !client.get("/api/now").at("daemon").value("past_known", true))
        throw Failure("no alarm of since this start is, or is about, \"" + which +
                      "\". What was before is not read yet: say it again once the logbook has opened");
    if (found.empty()) refuse_mistyped(client, answer.at("alarms"), which);
    if (found.empty())
        throw Failure("no present alarm is, or is about, \"" + which + "\"; see `ingle alarms`");
    return found;
}

}  // namespace

void add_ack(Verb const& app, Context& context) {
    auto command = app.verb("ack", "acknowledge alarms: somebody has seen them",
                            "  ingle ack all\n  ingle ack 12\n  ingle ack stockpot");
    struct Options {
        std::string which, by = user_name();
        bool json = false;
    };
    auto const given = std::make_shared<Options>();
    command.option("ALARM", given->which, "number, alarm or subject; without it all of them");
    command.option("--by", given->by, "who has seen it");
    command.flag("--json", given->json, "answer in JSON");
    command.does([&context, given] {
        Client const client(context.socket());
        if (given->which.empty() || given->which == "all") {
            return client.command(context, "acknowledge", {{"by", given->by}}, given->json);
        }
        int status = done;
        for (auto const& alarm : matching(client, given->which)) {
            status =
                std::max(status, client.command(context, "acknowledge",
                                                {{"alarm", alarm.at("id")}, {"by", given->by}}, given->json));
        }
        return status;
    });
}

void add_shelve(Verb const& app, Context& context) {
    auto command = app.verb("shelve", "silence an alarm for a while; it comes back by itself",
                            "  ingle shelve above-band \"20 min\"\n  ingle shelve 12 --off");
    struct Options {
        std::string which, length = "30 min", by = user_name();
        bool off = false, json = false;
    };
    auto const given = std::make_shared<Options>();
    command.required("ALARM", given->which, "number, alarm or subject");
    command.option("FOR", given->length, "how long, 8 h at most");
    command.flag("--off", given->off, "let it speak again now");
    command.option("--by", given->by, "who wants it");
    command.flag("--json", given->json, "answer in JSON");
    command.does([&context, given] {
        auto const length = parse_duration(given->length);
        if (auto const* error = std::get_if<QuantityError>(&length)) {
            throw Failure(error->wrong + "; " + error->right, wrong_usage);
        }
        Client const client(context.socket());
        int status = done;
        for (auto const& alarm : matching(client, given->which)) {
            Json body{{"alarm", alarm.at("id")}, {"by", given->by}};
            if (!given->off) body["for"] = given->length;
            status = std::max(status,
                              client.command(context, given->off ? "unshelve" : "shelve", body, given->json));
        }
        return status;
    });
}

void add_out_of_service(Verb const& app, Context& context) {
    auto command = app.verb(
        "out-of-service", "silence a vessel, a dish or a probe until it is said otherwise; an alarm says so",
        "  ingle out-of-service fridge\n  ingle out-of-service fridge --off");
    struct Options {
        std::string subject, by = user_name();
        bool off = false, json = false;
    };
    auto const given = std::make_shared<Options>();
    command.required("SUBJECT", given->subject, "a vessel, a dish or a probe");
    command.flag("--off", given->off, "let it speak again");
    command.option("--by", given->by, "who wants it");
    command.flag("--json", given->json, "answer in JSON");
    command.does([&context, given] {
        return Client(context.socket())
            .command(context, "out-of-service",
                     {{"subject", given->subject}, {"out", !given->off}, {"by", given->by}}, given->json);
    });
}

}  // namespace ingle::cli
