// A core's way in few straight pieces, so that its lethality can be added up by hand.
#include <algorithm>
#include <cmath>

#include "daemon/review/food_facts.hpp"

namespace ingle {
namespace {

constexpr std::size_t most_pieces = 40;  // a page
constexpr double near_enough = 0.01;     // of the sum over all readings
constexpr double first_tolerance_k = 1, last_tolerance_k = 0.02;

using Line = std::vector<CookSample>;

// Keeps the ends and whatever lies further than the tolerance from the line through those kept.
Line simplified(Line const& line, double tolerance_k) {
    std::vector<bool> keep(line.size(), false);
    keep.front() = keep.back() = true;
    std::vector<std::pair<std::size_t, std::size_t>> open{{0, line.size() - 1}};
    while (!open.empty()) {
        auto const [a, b] = open.back();
        open.pop_back();
        std::size_t furthest = a;
        double most = tolerance_k;
        for (auto i = a + 1; i < b; ++i) {
            double const share = (line[i].t - line[a].t) / (line[b].t - line[a].t);
            double const off =
                std::abs(line[a].celsius + share * (line[b].celsius - line[a].celsius) - line[i].celsius);
            if (off > most) most = off, furthest = i;
        }
        if (furthest == a) continue;
        keep[furthest] = true;
        open.emplace_back(a, furthest);
        open.emplace_back(furthest, b);
    }
    Line kept;
    for (std::size_t i = 0; i < line.size(); ++i)
        if (keep[i]) kept.push_back(line[i]);
    return kept;
}

Step step_of(CookSample const& a, CookSample const& b) {
    return {a.t, a.celsius, b.t, b.celsius};
}

// The pieces of one line, cut where it passes the ends of the model's range; what is worth nothing is left
// out.
void add_pieces(std::vector<LinePiece>& pieces, Line const& line, LogLinear const& model) {
    for (std::size_t i = 1; i < line.size(); ++i) {
        auto const step = step_of(line[i - 1], line[i]);
        Line cut{line[i - 1]};
        for (double const level : {model.lowest_c, model.highest_c})
            if ((step.c0 - level) * (step.c1 - level) < 0)
                cut.push_back({step.crossing(level), level, false});
        cut.push_back(line[i]);
        std::ranges::sort(cut, {}, &CookSample::t);
        for (std::size_t k = 1; k < cut.size(); ++k) {
            double const worth = lethal_seconds(model, step_of(cut[k - 1], cut[k]));
            bool const in_range = std::max(cut[k - 1].celsius, cut[k].celsius) > model.lowest_c;
            if (worth > 0 && in_range) pieces.push_back({cut[k - 1], cut[k], worth});
        }
    }
}

}  // namespace

std::vector<LinePiece> straight_pieces(std::vector<Step> const& steps, LogLinear const& model) {
    std::vector<Line> lines;
    double all = 0;
    bool goes_on = false;
    for (auto const& step : steps) {
        bool const counts = !step.gap && std::max(step.c0, step.c1) >= model.lowest_c;
        if (counts) {
            if (!goes_on) lines.push_back({{step.t0, step.c0, false}});
            lines.back().push_back({step.t1, step.c1, false});
            all += lethal_seconds(model, step);
        }
        goes_on = counts;
    }
    std::vector<LinePiece> best;
    double best_error = -1;
    for (double tolerance = first_tolerance_k; tolerance >= last_tolerance_k; tolerance /= 2) {
        std::vector<LinePiece> pieces;
        for (auto const& line : lines) add_pieces(pieces, simplified(line, tolerance), model);
        double sum = 0;
        for (auto const& piece : pieces) sum += piece.worth_s;
        double const error = std::abs(sum - all);
        if (best_error >= 0 && pieces.size() > most_pieces) break;
        if (best_error < 0 || error < best_error) best = pieces, best_error = error;
        if (error <= near_enough * all) break;
    }
    return best;
}

}  // namespace ingle
