#include "tools/cli/review/told_forecasts.hpp"

#include "daemon/review/facts.hpp"

namespace ingle::cli {
std::vector<CoreOutlook> told_outlooks(Book& book, logbook::CookRow const& row) {
    std::vector<CoreOutlook> all;
    for (auto const& event : book.reader().events(book.reader().window_of(row), std::string(kept_forecast))) {
        if (event.subject != row.dish) continue;
        CoreOutlook outlook;
        outlook.t = seconds(event.at.wall - row.began.wall);
        outlook.eta_s = number_in(event, "eta_s");
        outlook.low_s = number_in(event, "low_s");
        outlook.high_s = number_in(event, "high_s");
        outlook.low_half_s = number_in(event, "low_half_s");
        outlook.high_half_s = number_in(event, "high_half_s");
        all.push_back(outlook);
    }
    book.check();
    return all;
}

namespace {

std::vector<double> stages_of(Book& book, logbook::CookRow const& row) {
    std::vector<double> began;
    for (auto const& event : book.reader().events(book.reader().window_of(row), "stage-began"))
        if (event.subject == row.dish) began.push_back(seconds(event.at.wall - row.began.wall));
    return began;
}

}  // namespace

ToldOverAll told_over_all(Book& book) {
    ToldOverAll over_all;
    for (auto const& row : book.reader().cooks()) {
        bool counted = false;
        for (auto const& way : ways_to_target(told_outlooks(book, row), stages_of(book, row))) {
            auto const one = held_of(score_outlooks(way.outlooks, way.began_s, way.reached_s));
            over_all.intervals += one.intervals, over_all.held += one.held;
            counted = counted || one.intervals > 0;
        }
        over_all.cooks += counted;
    }
    book.check();
    return over_all;
}

}  // namespace ingle::cli
