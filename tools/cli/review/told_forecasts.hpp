// What was told of a cook's core while it cooked, as the logbook kept it.
#pragma once

#include <vector>

#include "daemon/review/record.hpp"
#include "tools/cli/past/book.hpp"

namespace ingle::cli {

// Oldest first; seconds since the cook began. Empty for a cook that an earlier version watched.
std::vector<CoreOutlook> told_outlooks(Book& book, logbook::CookRow const& row);

// Every stage of every cook in which a core came to its target, scored as in the review of one.
ToldOverAll told_over_all(Book& book);

}  // namespace ingle::cli
