// The logbook file as the commands about the past read it: directly, so that it works with and without a
// daemon. A running daemon is asked to put everything on disk first.
#pragma once

#include <string>
#include <vector>

#include "config/quantity.hpp"
#include "config/settings.hpp"
#include "daemon/logbook/cook_places.hpp"
#include "daemon/logbook/reader.hpp"
#include "tools/cli/program/command.hpp"
#include "tools/cli/time/span.hpp"

namespace ingle::cli {

class Book {
public:
    // `file`: "" = the state folder's. Throws Failure with the remedy where it cannot be read.
    Book(Context const& context, std::string const& file);

    // The imported recording among the words, if any; else `file`.
    static std::string file_for(Context const& context, std::string const& file,
                                std::vector<std::string> const& words);

    logbook::Reader& reader() { return reader_; }
    std::string const& import_name() const { return import_name_; }  // "" = not an imported recording
    void check() const;  // throws what the reader's last call came to
    // The kitchen file in force at that time, as far as it can be read; empty settings if not.
    Settings settings_at(WallTime when);
    // Of its begin; of its end, or of now, where the dish or its core was entered only after the begin.
    Settings settings_of(logbook::CookRow const& cook);

    // The cook that a person calls so: a dish's latest, "cook 12", "goose-roll 12".
    std::optional<logbook::CookRow> cook_named(std::string const& text);

    // "last 3 h", ..., or a cook: a dish's name (its latest cook), "cook 12", "goose-roll 12".
    WallSpan span_of(std::string const& text, WallTime now);

    std::vector<std::string> names();  // of vessels, dishes and probes of the kitchen as it is now

private:
    std::string listed_names();

    logbook::Reader reader_;
    std::string import_name_;
};

WallTime wall_now();

using logbook::number_in;

// What people held vessels at, oldest first: also those of the week before the window, which may still hold.
struct RecordedHold {
    std::string vessel;
    WallTime at;
    std::optional<Band> band;  // empty: held no more
    bool by_plan = false;      // nobody said so: no stage needed it any more
};
std::vector<RecordedHold> holds_until_end_of(Book& book, logbook::Window window);

struct Selection {  // what the words of a command line mean
    std::vector<std::string> probes;
    std::vector<std::string> subjects;  // vessels, dishes and probes that were asked for; empty: all there is
    std::string span_text;
    WallSpan span;
    bool whole_cook = false;  // the span is one
    Settings settings;

    // Is what was told of `subject`, with this text, about what was asked for? What is of no one thing (the
    // clock, the daemon) always is.
    bool concerns(std::string const& kind, std::string const& subject, std::string const& text) const;
};
// Words that name probes, vessels or dishes choose probes (a dish's name also its latest cook); the rest is
// the span, by default `otherwise`.
Selection select(Book& book, std::vector<std::string> const& words, std::string const& otherwise);

// Raw histories, in the order of these probes, by the newest calibration that the logbook has of each.
void recalculate(Book& book, std::vector<std::string> const& probes,
                 std::vector<logbook::History>& histories);

}  // namespace ingle::cli
