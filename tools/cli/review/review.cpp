// ingle review and ingle compare: what a cook came to, and two of them side by side; as text, as one HTML
// file, or as JSON.
#include <algorithm>
#include <fstream>
#include <memory>
#include <ostream>

#include "tools/cli/output/text.hpp"
#include "tools/cli/program/files.hpp"
#include "tools/cli/review/cook_record.hpp"
#include "tools/cli/review/review_doc.hpp"

namespace ingle::cli {
namespace {

struct Options {
    std::string cook, other, html, logbook;
    bool json = false;
};

constexpr std::size_t page_width = 80;  // longer lines are tiring to read

Reviewed reviewed(Context const& context, std::string const& logbook, std::string const& name) {
    auto cook = find_cook(context, logbook, name);
    Reviewed result;
    result.record = record_of(cook);
    result.facts = facts_of(result.record);
    return result;
}

int put(Context& context, Options const& given, Doc const& doc, Json const& json) {
    if (!given.html.empty()) {
        refuse_to_replace_another_kind(given.html, "<!");
        std::ofstream file(given.html, std::ios::binary);
        file << doc_html(doc);
        file.close();
        if (!file) throw Failure("cannot write " + given.html);
        if (!given.json) {
            context.out << doc.title << " is in " << given.html << "\n";
            return done;
        }
    }
    if (given.json)
        context.out << json.dump(2, ' ', false, Json::error_handler_t::replace) << "\n";
    else
        context.out << doc_text(doc, std::min(page_width, terminal().width));
    return done;
}

}  // namespace

void add_review(Verb const& app, Context& context) {
    auto command = app.verb("review", "what a cook came to, on one page",
                            "  ingle review goose-roll\n  ingle review \"goose-roll 12\" --html review.html");
    auto const given = std::make_shared<Options>();
    command.required("COOK", given->cook,
                     "a dish (its latest cook), \"goose-roll 12\", or an imported recording");
    command.option("--html", given->html, "write a page with charts to this file; it needs no network");
    command.flag("--json", given->json, "as JSON; seconds from the start, degC");
    command.option("--logbook", given->logbook, "read this file instead of the state folder's");
    command.does([&context, given] {
        auto const one = reviewed(context, given->logbook, given->cook);
        return put(context, *given, review_doc(one.record, one.facts), review_json(one.record, one.facts));
    });
}

void add_compare(Verb const& app, Context& context) {
    auto command = app.verb("compare", "two cooks side by side, over the time since each began",
                            "  ingle compare \"goose-roll 11\" goose-roll --html both.html");
    auto const given = std::make_shared<Options>();
    command.required("A", given->cook, "a cook, as for `ingle review`");
    command.required("B", given->other, "the other one");
    command.option("--html", given->html, "write a page with charts to this file; it needs no network");
    command.flag("--json", given->json, "as JSON; seconds and degC");
    command.option("--logbook", given->logbook, "read this file instead of the state folder's");
    command.does([&context, given] {
        auto const a = reviewed(context, given->logbook, given->cook),
                   b = reviewed(context, given->logbook, given->other);
        return put(context, *given, compare_doc(a, b), compare_json(a, b));
    });
}

}  // namespace ingle::cli
