// The logbook file as the commands about the past read it: directly, so that it works with and without a
// daemon. A running daemon is asked to put everything on disk first.
#pragma once

#include <string>
#include <vector>

#include "config/quantity.hpp"
#include "config/settings.hpp"
#include "daemon/logbook/reader.hpp"
#include "tools/cli/command.hpp"
#include "tools/cli/span.hpp"

namespace ingle::cli {

class Book {
public:
    // `file`: "" = the state folder's. Throws Failure with the remedy where it cannot be read.
    Book(Context const& context, std::string const& file);

    logbook::Reader& reader() { return reader_; }
    void check() const;  // throws what the reader's last call came to
    // The kitchen file in force at that time, as far as it can be read; empty settings if not.
    Settings settings_at(WallTime when);

    // "last 3 h", ..., or a cook: a dish's name (its latest cook), "cook 12", "goose-roll 12".
    WallSpan span_of(std::string const& text, WallTime now);

private:
    logbook::Reader reader_;
};

WallTime wall_now();

struct Selection {  // what the words of a command line mean
    std::vector<std::string> probes;
    std::string span_text;
    WallSpan span;
    Settings settings;
};
// Words that name probes, vessels or dishes choose probes (a dish's name also its latest cook); the rest is
// the span, by default `otherwise`.
Selection select(Book& book, std::vector<std::string> const& words, std::string const& otherwise);

}  // namespace ingle::cli
