// ingle export: a recording out of the logbook, or a copy of the logbook itself.
#include <algorithm>
#include <fstream>
#include <iostream>
#include <map>
#include <memory>
#include <ostream>

#include "tools/cli/output/text.hpp"
#include "tools/cli/past/book.hpp"
#include "tools/cli/past/export_rows.hpp"
#include "tools/cli/past/thinned.hpp"
#include "tools/cli/program/files.hpp"

namespace ingle::cli {
namespace {

struct Options {
    std::vector<std::string> words;
    std::string output, copy, logbook, unit;
    bool elapsed = false, raw = false, anew = false;
};

constexpr auto piece = std::chrono::hours(3);  // read at a time, so that a long export needs little memory

int backup(Context& context, Options const& given) {
    Book book(context, given.logbook);
    if (!book.reader().backup_to(given.copy)) book.check();
    context.out << "the logbook is copied to " << given.copy << "\n";
    return done;
}

int export_recording(Context& context, Options const& given) {
    Book book(context, Book::file_for(context, given.logbook, given.words));
    auto const selection = select(book, given.words, "last 24 h");
    auto unit = selection.settings.units;
    if (!given.unit.empty()) {
        auto const parsed = parse_unit(given.unit);
        if (auto const* error = std::get_if<QuantityError>(&parsed)) {
            throw Failure("--unit: " + error->wrong + "; " + error->right, wrong_usage);
        }
        unit = std::get<TemperatureUnit>(parsed);
    }
    std::ofstream file;
    if (!given.output.empty() && given.output != "-") {
        refuse_to_replace_another_kind(given.output, "time");
        file.open(given.output, std::ios::binary);
        if (!file) throw Failure("cannot write " + given.output, no);
    }
    std::ostream& out = file.is_open() ? static_cast<std::ostream&>(file) : context.out;

    ExportRows rows(selection.probes,
                    unit == TemperatureUnit::fahrenheit ? Scale::fahrenheit : Scale::celsius, given.elapsed);
    if (selection.whole_cook) rows.begins_at(selection.span.from);
    out << rows.header();
    Thinned thinned;
    auto notes = book.reader().events({selection.span.from, selection.span.to}, "note");
    book.check();
    for (auto from = selection.span.from; from < selection.span.to; from += piece) {
        auto const to = std::min(from + piece, selection.span.to);
        std::vector<logbook::HistoryQuery> queries;
        for (auto const& name : selection.probes)
            queries.push_back({name, {from, to}, Span{0}, given.raw || given.anew});
        auto histories = book.reader().history(queries);
        if (given.anew) recalculate(book, selection.probes, histories);
        book.check();
        for (std::size_t i = 0; i < histories.size(); ++i)
            thinned.look(book.reader(), selection.probes[i], {from, to}, histories[i]);
        out << rows.piece(histories, notes, {from, to});
    }
    book.check();
    out.flush();
    if (!out)
        throw Failure("cannot write " + (given.output.empty() ? std::string("the recording") : given.output),
                      no);
    if (auto const words = thinned.words(); !words.empty()) std::cerr << "ingle: " << words << "\n";
    if (file.is_open()) context.out << rows.count() << " rows in " << given.output << "\n";
    return rows.count() > 0 ? done : no;
}

}  // namespace

void add_export(Verb const& app, Context& context) {
    auto command =
        app.verb("export", "write a recording (CSV), or a copy of the logbook",
                 "  ingle export goose-roll -o supper.csv\n  ingle export \"yesterday 14:00\" --elapsed\n"
                 "  ingle export --logbook copy.db");
    auto const given = std::make_shared<Options>();
    command.words("WHAT", given->words,
                  "probes, vessels or dishes, and a span, as for `ingle history`; else the last 24 h");
    command.flag("--elapsed", given->elapsed, "time in seconds from the start instead of the wall's");
    command.option("--unit", given->unit, "degC or degF; else the kitchen's");
    command.flag("--raw", given->raw, "values as the driver gave them, before calibration");
    command.flag("--recalculate", given->anew, "old values too by each probe's calibration of now");
    command.option("-o,--output", given->output, "write to this file; else to standard output");
    command.option("--logbook", given->copy, "copy the whole logbook to this file, while recording goes on");
    command.option("--from", given->logbook, "read this logbook file instead of the state folder's");
    command.does([&context, given] {
        return given->copy.empty() ? export_recording(context, *given) : backup(context, *given);
    });
}

}  // namespace ingle::cli
