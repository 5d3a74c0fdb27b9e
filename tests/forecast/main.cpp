// The forecast bench: simulated cooks with a known end and measured ones, and how near the forecasts came.
#include <algorithm>
#include <atomic>
#include <cmath>
#include <cstdio>
#include <cstdlib>
#include <cstring>
#include <string>
#include <thread>
#include <vector>

#include "tests/forecast/real.hpp"
#include "tests/forecast/score.hpp"

using namespace ingle::bench;

namespace {

std::vector<SimulatedCook> cooks_of(Class kind, int count, bool judged, Case what = Case::none) {
    std::vector<SimulatedCook> all;
    for (unsigned seed = 1;
         static_cast<int>(all.size()) < count && seed < 20U * static_cast<unsigned>(count) + 20; ++seed) {
        auto cook = simulate(kind, seed, judged, what);
        bool const wanted = what == Case::unreachable ? cook.arrives_s < 0 : cook.arrives_s > 600;
        if (wanted) all.push_back(std::move(cook));
    }
    return all;
}

std::vector<CookScore> run_all(std::vector<SimulatedCook> const& cooks) {
    std::vector<CookScore> scores(cooks.size());
    std::atomic<std::size_t> next{0};
    auto const work = [&] {
        for (std::size_t i = next++; i < cooks.size(); i = next++) scores[i] = run(cooks[i]);
    };
    std::thread other(work);
    work();
    other.join();
    return scores;
}

double percent(int part, int of) {
    return of > 0 ? 100.0 * part / of : NAN;
}

void print(Class kind, std::vector<CookScore> const& scores) {
    int early = 0;
    double worst = 0, mean = 0;
    for (auto const& s : scores) {
        early += s.early;
        worst = std::max(worst, s.worst_update_ms);
        mean += s.mean_update_ms / static_cast<double>(scores.size());
    }
    for (std::size_t f = 0; f < fraction_count; ++f) {
        Summary sum;
        for (auto const& s : scores) sum.add(s.at[f]);
        std::printf(
            "%-6s %2.0f %%  told %3d/%-3d error %5.1f  (line %5.1f, mean %5.1f)  80: %3.0f %%  50: %3.0f %%  "
            "width %5.1f  "
            "pinball %5.2f (%.2f of line, %.2f of mean)\n",
            name_of(kind), 100 * fractions[f], sum.told, sum.count, median(sum.error), median(sum.line_error),
            median(sum.mean_error), percent(sum.held80, sum.told), percent(sum.held50, sum.told),
            median(sum.width), sum.pinball / sum.told, sum.pinball_line_own / sum.pinball_line,
            sum.pinball_mean_own / sum.pinball_mean);
    }
    std::printf("%-6s an estimate by 10 %%: %d/%zu; per minute %.2f ms, worst %.1f ms\n", name_of(kind),
                early, scores.size(), mean, worst);
    std::fflush(stdout);
}

// By what an interval's sides would have had to be longer to hold 80 (50) % of the truth.
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

}  // namespace

int main(int argc, char** argv) {
    int tuned = 20, judged = 0, of_case = 0;
    std::string only;
    bool rows = false;
    for (int i = 1; i < argc; ++i) {
        std::string const word = argv[i];
        if (word == "--tuned") tuned = std::atoi(argv[++i]);
        if (word == "--judged") judged = std::atoi(argv[++i]);
        if (word == "--cases") of_case = std::atoi(argv[++i]);
        if (word == "--class") only = argv[++i];
        if (word == "--rows") rows = true;
    }
    for (bool const judge : {false, true}) {
        int const count = judge ? judged : tuned;
        if (count == 0) continue;
        std::printf("%s\n", judge ? "judged" : "tuned");
        for (auto const kind : classes) {
            if (!only.empty() && only != name_of(kind)) continue;
            auto const cooks = cooks_of(kind, count, judge);
            auto const scores = run_all(cooks);
            print(kind, scores);
            if (!judge) print_calibration(scores);
            if (!rows) continue;
            for (auto const& s : scores) {
                std::printf("  %6.0f s shape %d th %.3f:", s.cook->arrives_s,
                            s.cook->entries.shape ? (int)*s.cook->entries.shape : -1,
                            s.cook->entries.thickness_m.value_or(0));
                for (auto const& o : s.at)
                    if (o.told)
                        std::printf("  %+5.1f [%+5.1f %+5.1f]", 100 * (o.told->q50 - o.left_s) / o.whole_s,
                                    100 * (o.told->q10 - o.left_s) / o.whole_s,
                                    100 * (o.told->q90 - o.left_s) / o.whole_s);
                    else
                        std::printf("  silent");
                std::printf("\n");
            }
        }
    }
    print_real();
    for (auto const what : cases) {
        if (of_case == 0) break;
        for (auto const kind : classes) {
            if (!only.empty() && only != name_of(kind)) continue;
            std::printf("%s: ", name_of(what));
            auto const cooks = cooks_of(kind, of_case, true, what);
            auto const scores = run_all(cooks);
            if (what == Case::unreachable) {
                int told = 0, called = 0;
                for (auto const& s : scores) told += s.told_never, called += s.called_unreachable;
                std::printf("%s: %zu cooks, told an estimate in %d, called unreachable in %d\n",
                            name_of(kind), scores.size(), told, called);
            } else {
                print(kind, scores);
            }
        }
    }
}
