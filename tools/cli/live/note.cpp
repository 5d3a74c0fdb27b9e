// ingle note: a line on the time line, now or after the fact.
#include <chrono>
#include <memory>

#include "tools/cli/program/client.hpp"
#include "tools/cli/time/local_time.hpp"
#include "tools/cli/time/span.hpp"

namespace ingle::cli {

void add_note(Verb const& app, Context& context) {
    auto command = app.verb("note", "write a note on the time line",
                            "  ingle note --about smoker \"opened the vent a finger wide\"\n"
                            "  ingle note --when 14:05 \"skimmed the stock\"");
    struct Options {
        std::vector<std::string> words;
        std::string about, when;
        bool json = false;
    };
    auto const given = std::make_shared<Options>();
    command.words("TEXT", given->words, "the note", true);
    command.option("--about", given->about, "the vessel, dish or probe that it is about");
    command.option("--when", given->when, "a time in the past: \"14:05\", \"yesterday 18:30\", ISO 8601");
    command.flag("--json", given->json, "answer in JSON");
    command.does([&context, given] {
        std::string text;
        for (auto const& word : given->words) text += (text.empty() ? "" : " ") + word;
        Json body{{"text", text}};
        if (!given->about.empty()) body["about"] = given->about;
        if (!given->when.empty()) {
            auto const now = std::chrono::floor<std::chrono::milliseconds>(std::chrono::system_clock::now());
            auto const when = parse_moment(given->when, now);
            if (!when.at) throw Failure(when.wrong, wrong_usage);
            if (*when.at > now) throw Failure("that moment is still to come", wrong_usage);
            body["when"] = local_iso(*when.at);
        }
        return Client(context.socket()).command(context, "note", body, given->json);
    });
}

}  // namespace ingle::cli
