// ingle timer: a kitchen timer that the daemon keeps, tells of, and does not forget over a restart.
#include <memory>
#include <ostream>

#include "config/quantity.hpp"
#include "tools/cli/live/now_text.hpp"
#include "tools/cli/live/past_moment.hpp"
#include "tools/cli/output/text.hpp"
#include "tools/cli/program/client.hpp"

namespace ingle::cli {
namespace {

struct Options {
    std::vector<std::string> words;
    bool json = false;
};

int list(Context& context, Client const& client, bool json) {
    auto const now = client.get("/api/now");
    auto const& timers = now.at("timers");
    if (json) {
        context.out << Json{{"timers", timers}}.dump(2) << "\n";
        return done;
    }
    auto const text = timers_text(timers, 0);
    context.out << (text.empty() ? "no timers\n" : text);
    return done;
}

int stop(Context& context, Client const& client, Options const& given) {
    if (given.words.size() != 2) throw Failure("say which: ingle timer stop 2", wrong_usage);
    auto const number = given.words[1].starts_with('#') ? given.words[1].substr(1) : given.words[1];
    if (number.empty() || number.size() > 15 || number.find_first_not_of("0123456789") != std::string::npos)
        throw Failure("\"" + given.words[1] + "\" is no number of a timer; see `ingle timer`", wrong_usage);
    return client.command(context, "stop-timer", {{"timer", std::stoll(number)}}, given.json);
}

int start(Context& context, Client const& client, Options const& given) {
    auto const& words = given.words;
    auto const joined = [&](std::size_t from, std::size_t to) {
        std::string text;
        for (; from < to; ++from) text += (text.empty() ? "" : " ") + words[from];
        return text;
    };
    // Without quotation marks the length is several words: "20 min turn the tart".
    auto used = std::min(words.size(), std::size_t{4});
    while (used > 1 && !std::holds_alternative<Duration>(parse_duration(joined(0, used)))) --used;
    if (joined(0, words.size()).find_first_not_of(' ') == std::string::npos)
        throw Failure("say how long: ingle timer \"20 min\" \"turn the tart\"", wrong_usage);
    auto const length = parse_duration(joined(0, used));
    if (auto const* error = std::get_if<QuantityError>(&length)) {
        for (std::size_t several = std::min(words.size(), std::size_t{2}); several > 0; --several)
            refuse_time_of_day(joined(0, several),
                               "a timer runs for a length, such as \"20 min\"; for a time: ingle remind \"" +
                                   (several < words.size() ? joined(several, words.size()) : "look") +
                                   "\" --at \"" + joined(0, several) + "\"");
        throw Failure(error->wrong + "; " + error->right, wrong_usage);
    }
    if (std::get<Duration>(length).seconds <= 0)
        throw Failure("a timer must be longer than nothing, such as \"20 min\"", wrong_usage);
    return client.command(context, "timer", {{"for", joined(0, used)}, {"text", joined(used, words.size())}},
                          given.json);
}

}  // namespace

void add_timer(Verb const& app, Context& context) {
    auto command =
        app.verb("timer", "set a kitchen timer, list them, or stop one",
                 "  ingle timer \"20 min\" \"turn the tart\"\n  ingle timer\n  ingle timer stop 2");
    auto const given = std::make_shared<Options>();
    command.words("WORDS", given->words,
                  "how long, such as \"20 min\", and what is to be done then; or: stop NUMBER; without it, "
                  "the timers are listed");
    command.flag("--json", given->json, "answer in JSON");
    command.does([&context, given] {
        Client const client(context.socket());
        if (given->words.empty()) return list(context, client, given->json);
        if (given->words[0] == "stop") return stop(context, client, *given);
        return start(context, client, *given);
    });
}

}  // namespace ingle::cli
