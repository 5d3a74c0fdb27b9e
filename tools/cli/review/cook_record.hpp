// A cook out of a logbook, gathered for its review. Reads only.
#pragma once

#include <memory>
#include <string>

#include "daemon/review/record.hpp"
#include "tools/cli/past/book.hpp"

namespace ingle::cli {

struct FoundCook {
    std::unique_ptr<Book> book;
    logbook::CookRow row;
    std::string title;                // "goose-roll 12", or the name of an imported recording
    std::vector<std::string> beside;  // names of the other cooks in an imported recording
};

// `name`: a dish (its latest cook), "cook 12", "goose-roll 12", or an imported recording's name, with
// "/DISH" where several dishes were begun in it. `file`: "" = the state folder's logbook and imports. Throws
// Failure with the remedy where there is none.
FoundCook find_cook(Context const& context, std::string const& file, std::string const& name);

CookRecord record_of(FoundCook& cook);
// Its stages, vessels and readings only: what its food is judged by. Throws Failure as Book does.
CookRecord food_record_of(Book& book, logbook::CookRow const& cook);

}  // namespace ingle::cli
