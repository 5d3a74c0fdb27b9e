#include "tests/forecast/gate.hpp"

#include <cmath>
#include <cstdio>

namespace ingle::bench {
namespace {

// Median error in % of the cook at 30, 50, 70 and 85 % of its time.
struct Bounds {
    double gate[fraction_count], goal[fraction_count];
};
constexpr Bounds errors[] = {{{5.5, 1.6, 1, 0.7}, {2, 1.5, 1, 0.7}},     // poach
                             {{20, 10, 6.5, 1.7}, {10, 3, 2, 1}},        // roast
                             {{24, 14, 6, 2}, {17, 16, 4, 2}},           // smoke
                             {{3.5, 2.2, 1.3, 0.7}, {2, 1.5, 1, 0.7}}};  // chill
// Shares of intervals that held, over the four points of the time together: a gate must stand although few
// cooks are run; the goal is for each point.
constexpr double held80_gate[] = {0.68, 0.96}, held80_goal[] = {0.75, 0.90};
constexpr double held50_gate[] = {0.36, 0.68}, held50_goal[] = {0.42, 0.58};
constexpr double pinball_of_line_goal = 0.5, pinball_of_mean_goal = 1;

int broken(bool is, char const* name, char const* what, double value, double bound) {
    if (is) std::printf("  BROKEN %s: %s is %.2f, the gate is %.2f\n", name, what, value, bound);
    return is;
}
void missed(bool is, char const* name, double fraction, char const* what, double value, double goal) {
    if (is)
        std::printf("  MISSED %s at %.0f %%: %s is %.2f, the goal is %.2f\n", name, 100 * fraction, what,
                    value, goal);
}
void missed_range(char const* name, double fraction, char const* what, double value,
                  double const (&goal)[2]) {
    missed(value < goal[0], name, fraction, what, value, goal[0]);
    missed(value > goal[1], name, fraction, what, value, goal[1]);
}

}  // namespace

int judge(Class kind, Pooled const& all) {
    auto const* const name = name_of(kind);
    auto const& bounds = errors[static_cast<int>(kind)];
    int bad = 0;
    double told = 0, held80 = 0, held50 = 0;
    for (std::size_t f = 0; f < fraction_count; ++f) {
        auto const& sum = all.at[f];
        told += sum.told, held80 += sum.held80, held50 += sum.held50;
        double const error = median(sum.error);
        bad += broken(!(error <= bounds.gate[f]), name, "the median error in %", error, bounds.gate[f]);
        missed(!(error <= bounds.goal[f]), name, fractions[f], "the median error in %", error,
               bounds.goal[f]);
        missed_range(name, fractions[f], "the share inside of 80 %", sum.held80 / double(sum.told),
                     held80_goal);
        missed_range(name, fractions[f], "the share inside of 50 %", sum.held50 / double(sum.told),
                     held50_goal);
        double const of_line = sum.pinball_line_own / sum.pinball_line;
        double const of_mean = sum.pinball_mean_own / sum.pinball_mean;
        missed(of_line > pinball_of_line_goal, name, fractions[f], "the pinball loss over the line's",
               of_line, pinball_of_line_goal);
        missed(of_mean > pinball_of_mean_goal, name, fractions[f], "the pinball loss over the mean rule's",
               of_mean, pinball_of_mean_goal);
        double const silent = 1 - sum.told / double(sum.count);
        bad += broken(silent > 0.15, name, "the share of silent forecasts", silent, 0.15);
        missed(sum.told < sum.count, name, fractions[f], "the share of silent forecasts", silent, 0);
    }
    held80 /= told, held50 /= told;
    bad += broken(held80 < held80_gate[0], name, "the share inside of 80 %", held80, held80_gate[0]);
    bad += broken(held80 > held80_gate[1], name, "the share inside of 80 %", held80, held80_gate[1]);
    bad += broken(held50 < held50_gate[0], name, "the share inside of 50 %", held50, held50_gate[0]);
    bad += broken(held50 > held50_gate[1], name, "the share inside of 50 %", held50, held50_gate[1]);
    bad += broken(all.called > 0, name, "reachable and called unreachable", all.called, 0);
    missed(all.early < all.cooks, name, 0.1, "the count of cooks with an estimate", all.early, all.cooks);
    return bad;
}

int judge_reach(Class kind, Case what, Pooled const& all) {
    auto const* const name = name_of(kind);
    if (!never_arrives(what))
        return broken(all.called > 0, name, "reachable and called unreachable", all.called, 0);
    return broken(all.told_never > 0, name, "out of reach and an estimate told", all.told_never, 0) +
           broken(all.called < 0.5 * all.cooks, name, "out of reach and called so", all.called,
                  0.5 * all.cooks);
}

}  // namespace ingle::bench
