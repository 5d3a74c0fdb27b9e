// The review of a cook as a page, and two cooks side by side.
#pragma once

#include <string>

#include "daemon/review/facts.hpp"
#include "tools/cli/output/doc.hpp"
#include "tools/cli/output/svg_chart.hpp"
#include "tools/cli/program/client.hpp"

namespace ingle::cli {

// How the moments of one cook are shown: by the clock, or counted from its begin where the board's clock was
// not certain.
class CookClock {
public:
    explicit CookClock(CookRecord const& record)
        : began_(record.began), certain_(record.clock_certain), days_(record.length_s > 20 * 3600) {}
    std::string at(double t, bool with_seconds = true) const;
    std::string axis(double t) const;
    double midnight() const;  // before the cook began, s

private:
    WallTime began_;
    bool certain_, days_;
};
std::string elapsed_text(double t, bool with_seconds = true);  // "1:05:09"

Doc review_doc(CookRecord const& record, CookFacts const& facts);
Json review_json(CookRecord const& record, CookFacts const& facts);

struct Reviewed {
    CookRecord record;
    CookFacts facts;
};
Doc compare_doc(Reviewed const& a, Reviewed const& b);
Json compare_json(Reviewed const& a, Reviewed const& b);

// Parts of a review.
// One plain sentence, before all tables.
void add_safe_to_eat(Doc& doc, CookRecord const& record, FoodFacts const& food);
void add_food(Doc& doc, CookRecord const& record, FoodFacts const& food);       // the verdicts
void add_food_sums(Doc& doc, CookRecord const& record, FoodFacts const& food);  // to redo them by hand
Block review_chart(CookRecord const& record, CookFacts const& facts);
std::string alarm_letter(std::size_t place);  // A, B, ..., Z, AA, ...
// What a series read between two moments, in the unit shown, cut at its gaps.
SvgLine chart_line(CookSeries const& series, std::string label, int style, TemperatureUnit unit, double from,
                   double to);

}  // namespace ingle::cli
