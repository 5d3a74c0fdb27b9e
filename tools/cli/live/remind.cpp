// ingle remind: what is to be done at a time, every so often, at a temperature or at the end of a stage. The
// daemon keeps it, tells of it, and does not forget it over a restart.
#include <memory>
#include <ostream>

#include "config/quantity.hpp"
#include "tools/cli/live/now_text.hpp"
#include "tools/cli/output/fitted.hpp"
#include "tools/cli/output/text.hpp"
#include "tools/cli/past/book.hpp"
#include "tools/cli/program/client.hpp"
#include "tools/cli/time/local_time.hpp"
#include "tools/cli/time/moment.hpp"

namespace ingle::cli {
namespace {

struct Options {
    std::vector<std::string> words;
    std::string at, of, every, end_of;
    bool json = false;
};

int list(Context& context, Client const& client, bool json) {
    auto const now = client.get("/api/now");
    auto const reminders = now.value("reminders", Json::array());
    if (json) {
        context.out << Json{{"reminders", reminders}}.dump(2) << "\n";
        return done;
    }
    auto const text = reminders_text(reminders, 0);
    context.out << (text.empty() ? "no reminders\n" : fitted_to_terminal(text));
    return done;
}

int stop(Context& context, Client const& client, Options const& given) {
    auto const& words = given.words;
    bool const number = words.size() == 2 && !words[1].empty() && words[1].size() <= 15 &&
                        words[1].find_first_not_of("0123456789") == std::string::npos;
    if (!number) throw Failure("say which: ingle remind stop 2; see `ingle remind`", wrong_usage);
    return client.command(context, "stop-reminder", {{"reminder", std::stoll(words[1])}}, given.json);
}

// A temperature of something, or a moment to come.
void read_at(Options const& given, Json& body, std::string& said) {
    auto const read = parse_temperature(given.at);
    if (std::holds_alternative<Temperature>(read)) {
        if (given.of.empty())
            throw Failure("--at " + given.at + " needs --of: the dish, vessel or probe that comes to it",
                          wrong_usage);
        body["temperature"] = given.at, body["about"] = given.of;
        return;
    }
    auto const moment = parse_moment(given.at, wall_now(), Toward::future);
    if (!given.of.empty() && moment.at)
        throw Failure("--at " + given.at +
                          " is a time, which comes to nothing else: leave out --of, or say a "
                          "temperature, such as --at \"150 degF\"",
                      wrong_usage);
    if (!given.of.empty()) {
        auto const& error = std::get<QuantityError>(read);
        throw Failure("--at: " + error.wrong + "; " + error.right, wrong_usage);
    }
    if (!moment.at) throw Failure("--at: " + moment.wrong, wrong_usage);
    // So long from now it is by any clock; a time of the day stays that where the clock is corrected.
    if (auto const words = plain_words(given.at); words.starts_with("in "))
        body["in"] = words.substr(3);
    else
        body["at"] = local_iso(*moment.at);
    said = time_text(*moment.at, true, false);
}

int remind(Context& context, Client const& client, Options const& given) {
    std::string text;
    for (auto const& word : given.words) text += (text.empty() ? "" : " ") + word;
    Json body{{"text", text}};
    int const kinds = int(!given.at.empty()) + int(!given.every.empty()) + int(!given.end_of.empty());
    if (kinds != 1)
        throw Failure("say when, with one of --at, --every and --end-of: ingle remind \"" + text +
                          "\" --every \"40 min\"",
                      wrong_usage);
    std::string said;
    if (!given.at.empty()) read_at(given, body, said);
    if (!given.every.empty()) body["every"] = given.every;
    if (!given.end_of.empty()) body["stage-of"] = given.end_of;
    int const status = client.command(context, "remind", body, given.json);
    if (status == done && !said.empty() && !given.json) context.out << "at " << said << "\n";
    return status;
}

}  // namespace

void add_remind(Verb const& app, Context& context) {
    auto command =
        app.verb("remind", "be reminded of something to do, list the reminders, or stop one",
                 "  ingle remind \"wrap it\" --at \"150 degF\" --of boar-shoulder\n"
                 "  ingle remind baste --every \"40 min\"\n"
                 "  ingle remind \"light the oven\" --at 15:30\n"
                 "  ingle remind \"make the gravy\" --end-of boar-shoulder\n  ingle remind stop 2");
    auto const given = std::make_shared<Options>();
    command.words("WORDS", given->words,
                  "what is to be done; or: stop NUMBER; without it, the reminders are listed");
    command.option("--at", given->at,
                   "a time (\"15:30\", \"in 20 min\"), or a temperature that --of comes to, up or down");
    command.option("--of", given->of, "whose temperature: a dish (its core), a vessel or a probe");
    command.option("--every", given->every, "again and again, such as \"40 min\"");
    command.option("--end-of", given->end_of, "a dish: when the stage that it is in ends");
    command.flag("--json", given->json, "answer in JSON");
    command.does([&context, given] {
        Client const client(context.socket());
        if (given->words.empty() && !(given->at + given->of + given->every + given->end_of).empty())
            throw Failure("say what is to be done: ingle remind \"baste\" --every \"40 min\"", wrong_usage);
        if (given->words.empty()) return list(context, client, given->json);
        if (given->words[0] == "stop") return stop(context, client, *given);
        return remind(context, client, *given);
    });
}

}  // namespace ingle::cli
