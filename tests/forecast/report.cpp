#include "tests/forecast/report.hpp"

#include <algorithm>
#include <cmath>
#include <cstdio>

#include "tests/forecast/real.hpp"

namespace ingle::bench {
namespace {

double percent(int part, int of) {
    return of > 0 ? 100.0 * part / of : NAN;
}

}  // namespace

Pooled pool(std::vector<CookScore> const& scores) {
    Pooled all;
    all.cooks = static_cast<int>(scores.size());
    for (auto const& s : scores) {
        for (std::size_t f = 0; f < fraction_count; ++f) all.at[f].add(s.at[f]);
        all.early += s.early;
        all.told_never += s.told_never;
        all.called += s.called_unreachable;
        if (s.called_at_s) all.called_h.push_back(*s.called_at_s / 3600);
        all.told_share += s.told_share / all.cooks;
        all.mean_update_ms += s.mean_update_ms / all.cooks;
        all.worst_update_ms = std::max(all.worst_update_ms, s.worst_update_ms);
    }
    return all;
}

void print(char const* name, Pooled const& all) {
    for (std::size_t f = 0; f < fraction_count; ++f) {
        auto const& sum = all.at[f];
        std::printf(
            "%-6s %2.0f %%  told %3d/%-3d error %5.1f  (line %5.1f, mean %5.1f)  80: %3.0f %%  50: %3.0f %%  "
            "width %5.1f  pinball %5.2f (%.2f of line, %.2f of mean)\n",
            name, 100 * fractions[f], sum.told, sum.count, median(sum.error), median(sum.line_error),
            median(sum.mean_error), percent(sum.held80, sum.told), percent(sum.held50, sum.told),
            median(sum.width), sum.pinball / sum.told, sum.pinball_line_own / sum.pinball_line,
            sum.pinball_mean_own / sum.pinball_mean);
    }
    std::printf(
        "%-6s an estimate by 10 %%: %d/%d; called unreachable: %d; per minute %.2f ms, worst %.1f ms\n", name,
        all.early, all.cooks, all.called, all.mean_update_ms, all.worst_update_ms);
    std::fflush(stdout);
}

void print_reach(char const* name, Pooled const& all, bool never) {
    if (never)
        std::printf(
            "%-6s %d cooks that never arrive: an estimate in %d, called unreachable %d, first after "
            "%.1f h (median)\n",
            name, all.cooks, all.told_never, all.called, median(all.called_h));
    else
        std::printf(
            "%-6s %d cooks that arrive: called unreachable %d; an estimate in %.0f %% of the answers\n", name,
            all.cooks, all.called, 100 * all.told_share);
    std::fflush(stdout);
}

void print_calibration(std::vector<CookScore> const& scores) {
    for (std::size_t f = 0; f < fraction_count; ++f) {
        std::vector<double> most, half;
        for (auto const& s : scores) {
            auto const& o = s.at[f];
            if (!o.told) continue;
            double const miss = o.left_s - o.told->q50;
            auto const ratio = [&](double low, double high) {
                return std::abs(miss) / std::max(1.0, miss < 0 ? o.told->q50 - low : high - o.told->q50);
            };
            most.push_back(ratio(o.told->q10, o.told->q90)), half.push_back(ratio(o.told->q25, o.told->q75));
        }
        std::ranges::sort(most), std::ranges::sort(half);
        if (most.empty()) continue;
        std::printf("  widen at %2.0f %%: 80 %% by %.2f, 50 %% by %.2f\n", 100 * fractions[f],
                    most[most.size() * 83 / 100], half[half.size() / 2]);
    }
}

void print_rows(std::vector<CookScore> const& scores) {
    for (auto const& s : scores) {
        std::printf("  %6.0f s shape %d th %.3f:", s.cook->arrives_s,
                    s.cook->entries.shape ? static_cast<int>(*s.cook->entries.shape) : -1,
                    s.cook->entries.thickness_m.value_or(0));
        for (auto const& o : s.at)
            if (o.told)
                std::printf("  %+5.1f [%+5.1f %+5.1f]", 100 * (o.told->q50 - o.left_s) / o.whole_s,
                            100 * (o.told->q10 - o.left_s) / o.whole_s,
                            100 * (o.told->q90 - o.left_s) / o.whole_s);
            else
                std::printf("  silent");
        if (s.called_at_s) std::printf("  called unreachable at %.0f s", *s.called_at_s);
        std::printf("  told %.0f %%\n", 100 * s.told_share);
    }
}

void print_real() {
    std::printf("measured cooks: error in %% of the cook [80 %% interval], at 50, 70 and 85 %%\n");
    Summary all[fraction_count];
    for (auto const& [name, cook] : real_cooks()) {
        auto const score = run(cook);
        std::printf("%-15s %6.0f s:", name, cook.arrives_s);
        for (std::size_t f = 1; f < fraction_count; ++f) {
            auto const& o = score.at[f];
            all[f].add(o);
            if (!o.told) {
                std::printf("  silent");
                continue;
            }
            auto const percent_of = [&](double s) { return 100 * (s - o.left_s) / o.whole_s; };
            std::printf("  %+5.1f [%+5.1f %+5.1f] (mean rule %+5.1f)", percent_of(o.told->q50),
                        percent_of(o.told->q10), percent_of(o.told->q90),
                        percent_of(o.mean_rule.value_or(NAN)));
        }
        std::printf("\n");
    }
    for (std::size_t f = 1; f < fraction_count; ++f)
        std::printf("at %2.0f %%: median error %.1f (mean rule %.1f), inside %d of %d\n", 100 * fractions[f],
                    median(all[f].error), median(all[f].mean_error), all[f].held80, all[f].told);
}

}  // namespace ingle::bench
