// ingle record: one sheet of what a day's cooking, cooling and holding came to; as text, HTML, CSV or JSON.
#include <algorithm>
#include <fstream>
#include <memory>
#include <ostream>

#include "tools/cli/output/text.hpp"
#include "tools/cli/program/files.hpp"
#include "tools/cli/record/record_forms.hpp"

namespace ingle::cli {
namespace {

struct Options {
    std::string day = "today", html, csv, logbook;
    bool json = false;
};

void write(std::string const& path, std::string_view begins, std::string const& text) {
    refuse_to_replace_another_kind(path, begins);
    std::ofstream file(path, std::ios::binary);
    file << text;
    file.close();
    if (!file) throw Failure("cannot write " + path);
}

int record(Context& context, Options const& given) {
    Book book(context, given.logbook);  // first: days are those of its kitchen's zone
    auto const found = day_record(book, kitchen_day(given.day, wall_now()));
    auto const doc = record_doc(found);
    if (!given.html.empty()) write(given.html, "<!", doc_html(doc));
    if (!given.csv.empty() && given.csv != "-") write(given.csv, "form,", record_csv(found));
    if (given.csv == "-") {
        context.out << record_csv(found);
    } else if (given.json) {
        context.out << record_json(found).dump(2, ' ', false, Json::error_handler_t::replace) << "\n";
    } else if (given.html.empty() && given.csv.empty()) {
        context.out << doc_text(doc, terminal().width);
    } else {
        for (auto const* file : {&given.html, &given.csv})
            if (!file->empty()) context.out << doc.title << " is in " << *file << "\n";
    }
    return done;
}

}  // namespace

void add_record(Verb const& app, Context& context) {
    auto command = app.verb("record", "one sheet of a day: cooking, cooling, holding, calibration, actions",
                            "  ingle record\n  ingle record --day yesterday --html record.html\n"
                            "  ingle record --day 2026-11-26 --csv -");
    auto const given = std::make_shared<Options>();
    command.option("--day", given->day, "\"yesterday\", \"mon\", \"nov 25\", \"2026-11-26\"; else today");
    command.option("--html", given->html, "write a page that prints on one sheet to this file");
    command.option("--csv", given->csv, "write CSV to this file; -: to standard output");
    command.flag("--json", given->json, "as JSON; degC and seconds");
    command.option("--logbook", given->logbook, "read this file instead of the state folder's");
    command.does([&context, given] { return record(context, *given); });
}

}  // namespace ingle::cli
