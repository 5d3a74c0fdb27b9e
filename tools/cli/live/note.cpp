// ingle note: a line on the time line, now or after the fact; or the newest one taken back.
#include <memory>
#include <ostream>

#include "tools/cli/live/past_moment.hpp"
#include "tools/cli/program/client.hpp"

namespace ingle::cli {

void add_note(Verb const& app, Context& context) {
    auto command = app.verb("note", "write a note on the time line",
                            "  ingle note --about smoker \"opened the vent a finger wide\"\n"
                            "  ingle note --when \"20 min ago\" \"skimmed the stock\"\n"
                            "  ingle note --back");
    struct Options {
        std::vector<std::string> words;
        std::string about, when;
        bool back = false, json = false;
    };
    auto const given = std::make_shared<Options>();
    command.words("TEXT", given->words, "the note");
    command.option("--about", given->about, "the vessel, dish or probe that it is about");
    command.option("--when", given->when, "a time in the past: \"14:05\", \"2 pm\", \"20 min ago\"");
    command.flag("--back", given->back, "take the newest note back; the record keeps both");
    command.flag("--json", given->json, "answer in JSON");
    command.does([&context, given] {
        Client const client(context.socket());
        if (given->back) {
            if (!given->words.empty()) throw Failure("--back goes without a text", wrong_usage);
            return client.command(context, "note-back", Json::object(), given->json);
        }
        if (given->words.empty())
            throw Failure("say what is to be noted: ingle note \"skimmed the stock\"", wrong_usage);
        std::string text, said;
        for (auto const& word : given->words) text += (text.empty() ? "" : " ") + word;
        Json body{{"text", text}};
        if (!given->about.empty()) body["about"] = given->about;
        if (!given->when.empty()) body["when"] = past_moment(given->when, said);
        int const status = client.command(context, "note", body, given->json);
        if (status == done && !said.empty() && !given->json) context.out << "as of " << said << "\n";
        return status;
    });
}

}  // namespace ingle::cli
