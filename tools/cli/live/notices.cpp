// ingle notices: what was sent to whom, what waits and what failed, and whether each channel delivers.
#include <memory>
#include <ostream>
#include <sstream>

#include "config/civil_time/iso_time.hpp"
#include "config/did_you_mean.hpp"
#include "tools/cli/output/text.hpp"
#include "tools/cli/program/client.hpp"
#include "tools/cli/time/local_time.hpp"

namespace ingle::cli {
namespace {

struct Options {
    std::string last = "7 days", channel;
    bool json = false;
};

// "" where there is none.
std::string when_text(Json const& iso) {
    auto const at = iso.is_string() ? parse_iso_time(iso.get<std::string>()) : std::nullopt;
    return at ? time_text(*at) : std::string();
}

std::string word(Json const& json, char const* key) {
    auto const& value = json.at(key);
    return value.is_string() ? value.get<std::string>() : std::string();
}

std::string channel_line(Json const& channel) {
    auto const state = word(channel, "state"), name = word(channel, "name"), kind = word(channel, "kind");
    auto const last = when_text(channel.at("last_delivered"));
    std::string line = name + " (" + kind + "): ";
    if (state == "proven") return line + "works; last delivered " + last;
    line += state == "failing" ? "DOES NOT DELIVER: " : "not proven: ";
    line += word(channel, "reason");
    if (!last.empty()) line += "; last delivered " + last;
    return line + (state == "failing" ? "" : "; try it: ingle notices test " + name);
}

std::string outcome_text(Json const& notice) {
    auto const& attempts = notice.at("attempts");
    auto const tries = std::to_string(attempts.size()) + (attempts.size() == 1 ? " try" : " tries");
    auto const reason = attempts.empty() ? std::string() : word(attempts.back(), "reason");
    auto const state = word(notice, "state");
    if (state == "delivered") {
        auto const at = attempts.empty() ? std::string() : when_text(attempts.back().at("at"));
        return "delivered" + (at.empty() ? "" : " " + at) + (attempts.size() > 1 ? ", after " + tries : "");
    }
    if (state == "failed") return "NOT DELIVERED" + (reason.empty() ? "" : ": " + reason);
    auto text = state == "held"    ? word(notice, "reason")
                : attempts.empty() ? std::string("waiting")
                                   : "waiting after " + tries + ": " + reason;
    if (auto const next = when_text(notice.at("next_try")); !next.empty()) text += "; next try " + next;
    return text;
}

std::string lines_wrapped(std::string const& text, std::size_t width) {
    std::string out;
    std::istringstream lines(text);
    for (std::string line; std::getline(lines, line);)
        if (!line.empty()) out += (out.empty() ? "" : "\n") + wrapped(line, width, "      ");
    return out;
}

int list(Context& context, Options const& given) {
    auto const answer = Client(context.socket()).get("/api/notices?last=" + percent_encoded(given.last));
    if (given.json) {
        context.out << answer.dump(2) << "\n";
        return done;
    }
    auto const width = terminal().width;
    for (auto const& channel : answer.at("channels"))
        context.out << wrapped(channel_line(channel), width, "") << "\n";
    if (answer.at("channels").empty())
        context.out << "no channel is set up: nobody is told anything away from the terminal and the page; "
                       "see `ingle explain channel`\n";
    auto const& notices = answer.at("notices");
    auto const since = answer.value("unrecorded_since", Json());
    if (!since.is_null())
        context.out << "\n"
                    << wrapped("Nothing is recorded" +
                                   (when_text(since).empty() ? "" : " since " + when_text(since)) +
                                   ": what was sent from then on is not in the list below.",
                               width, "");
    auto const none =
        since.is_null() ? "nothing was sent in the last " : "no message is recorded of the last ";
    context.out << "\n"
                << (notices.empty() ? none : "sent in the last ") << given.last
                << (notices.empty() ? "\n" : ", newest first\n");
    for (auto const& notice : notices) {
        auto const text = word(notice, "text");
        context.out << "  " << when_text(notice.at("since")) << "  " << word(notice, "channel") << "  "
                    << word(notice, "kind") << "\n"
                    << lines_wrapped(text, width) << "\n"
                    << wrapped(outcome_text(notice), width, "      ") << "\n";
    }
    return done;
}

// Each channel that is meant is sent a real message; the answer is no if one of them fails.
int test(Context& context, Options const& given) {
    Client const client(context.socket());
    std::vector<std::string> names;
    std::vector<std::string> known;
    auto const answer = client.get("/api/notices");
    for (auto const& channel : answer.at("channels")) {
        known.push_back(word(channel, "name"));
        if (given.channel.empty() || channel.at("name") == given.channel)
            names.push_back(channel.at("name").get<std::string>());
    }
    if (names.empty() && given.channel.empty())
        throw Failure("no channel is set up; see `ingle explain channel`");
    if (names.empty())
        throw Failure("there is no channel \"" + given.channel + "\"; `ingle notices` lists them" +
                          did_you_mean(given.channel, known),
                      wrong_usage);
    int status = done;
    auto results = Json::array();
    for (auto const& name : names) {
        std::string text;
        bool delivered = false;
        try {
            text = client.post("/api/channels/" + percent_encoded(name) + "/test", Json::object())
                       .at("text")
                       .get<std::string>();
            delivered = true;
        } catch (NoDaemon const&) {
            throw;
        } catch (Failure const& failure) {
            text = failure.what();
            status = no;
        }
        results.push_back({{"channel", name}, {"delivered", delivered}, {"text", text}});
        if (!given.json) context.out << text << "\n" << std::flush;
    }
    if (given.json) context.out << Json{{"tests", results}}.dump(2) << "\n";
    return status;
}

}  // namespace

void add_notices(Verb const& app, Context& context) {
    auto command =
        app.verb("notices", "what was sent to whom, what waits or failed, and if each channel works",
                 "  ingle notices\n  ingle notices test\n  ingle notices test phone");
    auto const given = std::make_shared<Options>();
    command.option("--last", given->last, "how far back, 7 days if not said");
    command.flag("--json", given->json, "answer in JSON");
    command.does([&context, given] { return list(context, *given); });
    auto trial = command.verb("test", "send a real message through a channel, or through all of them",
                              "  ingle notices test phone");
    trial.option("CHANNEL", given->channel, "without it, each channel");
    trial.flag("--json", given->json, "answer in JSON");
    trial.does([&context, given] { return test(context, *given); });
}

}  // namespace ingle::cli
