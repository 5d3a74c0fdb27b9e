// The forecast bench: simulated cooks with a known end and measured ones, and how near the forecasts came.
//   --tuned N, --judged N   so many cooks of each class from the one and from the other seeds
//   --cases N               so many of each disturbance and of targets out of reach, of each class
//   --class K, --case K     only these; --from S: seeds from S on; --tuned-cases: cases of the tuned seeds;
//                           --reach: only the cases that ask whether a target is in reach
//   --gate                  fails where a gate of gate.cpp is broken, and tells which goals are missed
//   --threads N             2 unless said otherwise; --rows: each cook
#include <atomic>
#include <cstdio>
#include <cstdlib>
#include <string>
#include <thread>
#include <vector>

#include "tests/forecast/gate.hpp"

using namespace ingle::bench;

namespace {

struct Options {
    int tuned = 20, judged = 0, of_case = 0, threads = 2;
    unsigned from = 1;
    std::string only, only_case;
    bool rows = false, judged_cases = true, gate = false, reach_only = false;
};

std::vector<SimulatedCook> cooks_of(Class kind, int count, bool judged, unsigned from,
                                    Case what = Case::none) {
    std::vector<SimulatedCook> all;
    unsigned const tries = 20U * static_cast<unsigned>(count) + 20;
    for (unsigned seed = from; static_cast<int>(all.size()) < count && seed < from + tries; ++seed) {
        auto cook = simulate(kind, seed, judged, what);
        bool const wanted = never_arrives(what) ? cook.arrives_s < 0 : cook.arrives_s > 600;
        if (wanted) all.push_back(std::move(cook));
    }
    return all;
}

std::vector<CookScore> run_all(std::vector<SimulatedCook> const& cooks, int threads) {
    std::vector<CookScore> scores(cooks.size());
    std::atomic<std::size_t> next{0};
    auto const work = [&] {
        for (std::size_t i = next++; i < cooks.size(); i = next++) scores[i] = run(cooks[i]);
    };
    std::vector<std::thread> others;
    for (int i = 1; i < threads; ++i) others.emplace_back(work);
    work();
    for (auto& other : others) other.join();
    return scores;
}

int run_classes(Options const& o, bool judged) {
    int const count = judged ? o.judged : o.tuned;
    if (count == 0) return 0;
    int bad = 0;
    std::printf("%s\n", judged ? "judged" : "tuned");
    for (auto const kind : classes) {
        if (!o.only.empty() && o.only != name_of(kind)) continue;
        auto const cooks = cooks_of(kind, count, judged, o.from);
        auto const scores = run_all(cooks, o.threads);
        auto const all = pool(scores);
        print(name_of(kind), all);
        if (o.gate) bad += judge(kind, all);
        if (!judged) print_calibration(scores);
        if (o.rows) print_rows(scores);
    }
    return bad;
}

int run_cases(Options const& o) {
    if (o.of_case == 0) return 0;
    int bad = 0;
    for (auto const what : cases) {
        if (!o.only_case.empty() && o.only_case != name_of(what)) continue;
        if (o.reach_only && what < Case::barely) continue;
        std::printf("%s\n", name_of(what));
        for (auto const kind : classes) {
            if (!o.only.empty() && o.only != name_of(kind)) continue;
            auto const cooks = cooks_of(kind, o.of_case, o.judged_cases, o.from, what);
            auto const scores = run_all(cooks, o.threads);
            auto const all = pool(scores);
            if (!never_arrives(what) && what != Case::barely) print(name_of(kind), all);
            print_reach(name_of(kind), all, never_arrives(what));
            if (o.gate) bad += judge_reach(kind, what, all);
            if (o.rows) print_rows(scores);
        }
    }
    return bad;
}

}  // namespace

int main(int argc, char** argv) {
    Options o;
    for (int i = 1; i < argc; ++i) {
        std::string const word = argv[i];
        char const* const value = i + 1 < argc ? argv[i + 1] : "";
        if (word == "--tuned") o.tuned = std::atoi(value);
        if (word == "--judged") o.judged = std::atoi(value);
        if (word == "--cases") o.of_case = std::atoi(value);
        if (word == "--threads") o.threads = std::atoi(value);
        if (word == "--from") o.from = static_cast<unsigned>(std::atoi(value));
        if (word == "--class") o.only = value;
        if (word == "--case") o.only_case = value;
        if (word == "--rows") o.rows = true;
        if (word == "--gate") o.gate = true;
        if (word == "--reach") o.reach_only = true;
        if (word == "--tuned-cases") o.judged_cases = false;
    }
    int const bad = run_classes(o, false) + run_classes(o, true) + run_cases(o);
    print_real();
    if (bad > 0) std::printf("%d gates are broken\n", bad);
    return bad > 0;
}
