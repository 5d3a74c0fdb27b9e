#include "tools/cli/review/told_forecasts.hpp"

#include "daemon/review/facts.hpp"

namespace ingle::cli {
namespace {

constexpr double believed_after_s = 30;  // a core is at its target when it has been there for so long

}  // namespace

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

ToldOverAll told_over_all(Book& book) {
    ToldOverAll over_all;
    for (auto const& row : book.reader().cooks()) {
        double began = 0;  // of the stage
        std::vector<CoreOutlook> of_stage;
        bool counted = false;
        for (auto const& outlook : told_outlooks(book, row)) {
            if (of_stage.empty()) began = outlook.t;
            of_stage.push_back(outlook);
            if (!outlook.eta_s || *outlook.eta_s > 0) continue;
            auto const one = held_of(score_outlooks(of_stage, began, outlook.t - believed_after_s));
            over_all.intervals += one.intervals, over_all.held += one.held;
            counted = counted || one.intervals > 0;
            of_stage.clear();
        }
        over_all.cooks += counted;
    }
    book.check();
    return over_all;
}

}  // namespace ingle::cli
