// The scenario bench: every kind, many seeds, the truth known. Prints the truth, the table, and the same
// table for a plain threshold without and with a deadband; writes one chart per kind; exit status 1 if a goal
// is missed.
//   scenarios --restarts N [--seeds N] [--kind NAME]: each run with N restarts against the same run without
//   scenarios [--seeds N] [--tuned N] [--family vessels|hands] [--kind NAME] [--seed N] [--charts FOLDER]
//             [--offences] [--deaf ALARM] [--first SEED]
//   scenarios --random N: N signals without sense; nothing may be told beyond the readings
// A medium or high alarm in a quiet hour is false unless it says above-band or below-band and the true
// temperature was outside for the two minutes before. --deaf takes an alarm away, as a broken watch would:
// the bench must fail.
#include <cmath>
#include <cstdio>
#include <cstdlib>
#include <filesystem>
#include <fstream>
#include <optional>
#include <string>

#include "tests/scenarios/glr.hpp"
#include "tests/scenarios/judge.hpp"
#include "tests/scenarios/restarts.hpp"

namespace {

using namespace ingle::scenarios;

// What was tuned is judged on other seeds.
constexpr int first_tuned_seed = 1, first_judged_seed = 1001, least_hand_kinds = 16;

struct Wanted {
    int seeds = 20, tuned = 4;  // judged, and of those that thresholds were tuned on
    std::optional<int> first;   // another one than that of the judged: to look at what is tuned on
    int only_seed = -1, random = 0;
    int restarts = 0;
    std::string charts, kind, deaf, family;
    bool offences = false, delays = false;
};

void print_head() {
    std::printf("%-20s %4s | %6s %4s %4s %4s | %6s %6s | %7s %5s | %5s %5s %4s | %6s %5s %4s | %6s %6s\n",
                "kind", "runs", "hazard", "told", "late", "miss", "causes", "extra", "quiet h", "false",
                "doors", "found", "inv.", "events", "found", "inv.", "lead s", "boil s");
}

void print_row(std::string const& name, Score const& s) {
    std::printf(
        "%-20s %4d | %6d %4d %4d %4d | %6d %6d | %7.0f %5d | %5d %5d %4d | %6d %5d %4d | %6.0f %6.0f\n",
        name.c_str(), s.runs, s.hazards, s.told, s.late, s.missed, s.causes, s.extra + s.after, s.quiet_h,
        s.quiet_alarms, s.doors, s.doors_found, s.doors_invented, s.events, s.events_found, s.events_invented,
        median(s.leads_s), median(s.boil_leads_s));
}

constexpr double most_delay_ratio = 1.5;
constexpr int compared_seeds = 12;       // with the likelihood ratio, unless asked for by itself
constexpr double most_differing = 0.01;  // of the loud messages, over restarts

struct Goal {
    std::string text;
    bool met;
    bool judged = true;  // false: there was nothing to judge
};

std::string number(double v) {
    char text[32];
    std::snprintf(text, sizeof text, "%.3g", v);
    return text;
}

Goal readings_goal(Score const& s) {
    return {"nothing told beyond the readings: " + std::to_string(s.lies) + " of " +
                std::to_string(s.statements) + " levels and forecasts",
            s.lies == 0, s.statements > 0};
}

std::vector<Goal> vessel_goals(Score const& s) {
    auto const least = [](std::vector<double> const& v) {
        double low = 1e9;
        for (double x : v) low = std::min(low, x);
        return low;
    };
    double const per_48h = s.quiet_h > 0 ? s.quiet_alarms / s.quiet_h * 48 : 0;
    return {
        {"every hazard told: " + std::to_string(s.missed) + " missed", s.missed == 0, s.hazards > 0},
        {"none later than its limit: " + std::to_string(s.late) + " late", s.late == 0, s.hazards > 0},
        {"a drift out of the band is told before it is left: " + std::to_string(s.unwarned) + " of " +
             std::to_string(s.warnings) + " were not",
         s.unwarned == 0, s.warnings > 0},
        {"quiet hours: " + number(per_48h) + " medium or high alarms in 48 h, at most 1", per_48h <= 1,
         s.quiet_h > 0},
        {"one cause gives one alarm: " + std::to_string(s.extra + s.after) + " beyond it",
         s.extra + s.after == 0, s.causes > 0},
        {"median lead of leaving-band " + number(median(s.leads_s)) + " s, at least 180",
         median(s.leads_s) >= 180, !s.leads_s.empty()},
        {"boil-over-risk " + number(least(s.boil_leads_s)) + " s before the boil at the worst, at least 60",
         least(s.boil_leads_s) >= 60, !s.boil_leads_s.empty()},
        {"door openings found " + number(100.0 * s.doors_found / std::max(s.doors, 1)) + " %, at least 95",
         s.doors_found >= 0.95 * s.doors, s.doors > 0},
        {"door openings invented " + number(100.0 * s.doors_invented / std::max(s.doors, 1)) + " %, under 2",
         s.doors_invented<0.02 * s.doors, s.doors> 0},
        {"food, top-ups and interference told " + std::to_string(s.events_found) + " of " +
             std::to_string(s.events) + ", at least 95 %",
         s.events_found >= 0.95 * s.events, s.events > 0},
        {"and invented " + std::to_string(s.events_invented) + ", under 2 %",
         s.events_invented<0.02 * s.events, s.events> 0},
        {"no two alarms order opposite things: " + std::to_string(s.opposed) + " pairs did", s.opposed == 0,
         s.runs > 0},
        {"a correction that works is not told again: " + std::to_string(s.nagged) + " of " +
             std::to_string(s.corrections) + ", at most 5 %",
         s.nagged <= 0.05 * s.corrections, s.corrections > 0},
        readings_goal(s)};
}

// Beside the best that the noise allows; the same rate of false alarms. Whether all are near enough.
bool print_delays(int seeds) {
    std::printf("Delay from the onset, beside a likelihood ratio that knows the noise (medians):\n");
    bool met = true;
    for (auto const& one : delay_ratios(seeds)) {
        bool const near = one.runs > 0 && one.ratio() <= most_delay_ratio;
        std::printf(
            "%s  %-15s %-17s %2d runs: %4.0f s, at best %4.0f s, ratio %.2f, at most %.1f; false %.3f/h "
            "(untouched pots only: %.0f s)\n",
            near ? "met   " : "MISSED", one.alarm.c_str(), one.kind.c_str(), one.runs, one.watch_s,
            one.best_s, one.ratio(), most_delay_ratio, one.false_per_h, one.noise_alone_s);
        met = met && near;
    }
    return met;
}

std::vector<Goal> hand_goals(Score const& s) {
    return {{"no false medium or high alarm: " + std::to_string(s.quiet_alarms), s.quiet_alarms == 0,
             s.quiet_h > 0},
            {"no invented cause: " + std::to_string(s.events_invented + s.doors_invented),
             s.events_invented + s.doors_invented == 0, s.runs > 0},
            readings_goal(s)};
}

// One family of kinds: judged on seeds that nothing was tuned on, the tuned ones beside them.
struct Tally {
    Score judged, tuned, untuned_kinds, plain, banded;
};

Score run_kind(Kind const& kind, Wanted const& wanted, std::uint64_t first_seed, int seeds, Tally* tally) {
    Score of_kind;
    for (int i = 0; i < seeds; ++i) {
        auto const seed = wanted.only_seed > 0 ? static_cast<std::uint64_t>(wanted.only_seed)
                                               : first_seed + static_cast<std::uint64_t>(i);
        auto const scenario = kind.make(seed);
        auto run = run_core(scenario);
        if (!wanted.deaf.empty())
            std::erase_if(run.alarms, [&](Told const& told) { return told.alarm == wanted.deaf; });
        of_kind.add(judge(scenario, run));
        if (!tally) continue;
        tally->plain.add(judge(scenario, run_threshold(scenario, 0)));
        tally->banded.add(judge(scenario, run_threshold(scenario, 1)));
        if (!wanted.charts.empty() && i == 0) {
            std::filesystem::create_directories(wanted.charts);
            std::ofstream(wanted.charts + "/" + std::string(kind.name) + ".svg")
                << chart(scenario, run, kind.truth);
        }
        if (wanted.only_seed > 0) break;
    }
    return of_kind;
}

bool print_goals(char const* family, std::vector<Goal> const& goals, bool all_kinds) {
    bool met = true, any = false;
    for (auto const& goal : goals) {
        // Of one kind alone some goals have nothing to judge; of all of them that is a broken bench.
        bool const skipped = !goal.judged && !all_kinds;
        bool const ok = goal.judged && goal.met;
        any = any || goal.judged;
        met = met && (ok || skipped);
        std::printf("%s  %s: %s%s\n",
                    skipped ? "-     "
                    : ok    ? "met   "
                            : "MISSED",
                    family, goal.text.c_str(), goal.judged ? "" : " (nothing to judge)");
    }
    return met && any;
}

bool bench_family(Wanted const& wanted, Family family, std::string& offences) {
    bool const vessels = family == Family::vessels;
    char const* const name = vessels ? "vessels" : "hands";
    Tally tally;
    int kinds_run = 0;
    print_head();
    for (auto const& kind : kinds()) {
        if (kind.family != family || (!wanted.kind.empty() && wanted.kind != kind.name)) continue;
        ++kinds_run;
        auto const of_kind =
            run_kind(kind, wanted, static_cast<std::uint64_t>(wanted.first.value_or(first_judged_seed)),
                     wanted.seeds, &tally);
        print_row(std::string(kind.name) + (kind.tuned ? "" : " *"), of_kind);
        std::fflush(stdout);
        int shown = 0;
        for (auto const& offence : of_kind.offences)
            if (wanted.offences || shown++ < 3)
                offences += "  " + std::string(kind.name) + ", " + offence + "\n";
        tally.judged.add(of_kind);
        if (!kind.tuned) tally.untuned_kinds.add(of_kind);
        if (wanted.only_seed <= 0 && kind.tuned)
            tally.tuned.add(run_kind(kind, wanted, first_tuned_seed, wanted.tuned, nullptr));
    }
    if (kinds_run == 0) return true;
    std::printf("\n");
    print_head();
    print_row(std::string(name) + ", judged", tally.judged);
    if (tally.untuned_kinds.runs > 0) print_row("  kinds marked *", tally.untuned_kinds);
    if (tally.tuned.runs > 0) print_row(std::string(name) + ", tuned on", tally.tuned);
    if (vessels) {
        print_row("plain threshold", tally.plain);
        print_row("threshold, 1 K band", tally.banded);
        auto const wrong = [](Score const& s) {
            return s.missed + s.late + s.quiet_alarms + s.extra + s.after;
        };
        std::printf("\nmissed + late + false + extra: Ingle %d, plain threshold %d, with a deadband %d\n",
                    wrong(tally.judged), wrong(tally.plain), wrong(tally.banded));
    }
    std::printf("\n");
    bool const all_kinds = wanted.kind.empty();
    bool met = print_goals(name, vessels ? vessel_goals(tally.judged) : hand_goals(tally.judged), all_kinds);
    if (!vessels && all_kinds) {
        bool const wide = kinds_run >= least_hand_kinds;
        std::printf("%s  hands: %d kinds, at least %d\n", wide ? "met   " : "MISSED", kinds_run,
                    least_hand_kinds);
        met = met && wide;
    }
    std::printf(
        "In %.0f quiet hours %d medium or high alarms said what was truly so: not false. Low alarms: %d.\n\n",
        tally.judged.quiet_h, tally.judged.truly_outside, tally.judged.quiet_words);
    return met;
}

bool random_signals(int first, int count) {
    int statements = 0, lies = 0;
    for (int seed = first; seed < first + count; ++seed) {
        auto const run = run_random(static_cast<std::uint64_t>(seed));
        statements += run.statements;
        lies += static_cast<int>(run.lies.size());
        if (!run.lies.empty() && lies < 400)
            std::printf("  random signal %d, %s\n", seed, run.lies.front().c_str());
    }
    bool const met = lies == 0 && statements > 0;
    std::printf("%s  %d random signals: nothing told beyond the readings: %d of %d levels and forecasts\n",
                met ? "met   " : "MISSED", count, lies, statements);
    return met;
}

int bench(Wanted const& wanted) {
    int const first = wanted.first.value_or(first_judged_seed);
    if (wanted.kind.empty()) {
        std::printf("The truth (* = no threshold was ever chosen on it):\n");
        for (auto const& kind : kinds())
            std::printf("  %-20s %s%s\n", std::string(kind.name).c_str(), std::string(kind.truth).c_str(),
                        kind.tuned ? "" : " *");
        std::printf("\nJudged on seeds %d to %d; thresholds were tuned on seeds %d to %d.\n\n", first,
                    first + wanted.seeds - 1, first_tuned_seed, first_tuned_seed + 19);
    }
    std::string offences;
    bool met = true;
    for (auto const family : {Family::vessels, Family::hands})
        if (wanted.family.empty() || wanted.family == (family == Family::vessels ? "vessels" : "hands"))
            met = bench_family(wanted, family, offences) && met;
    if (!offences.empty()) std::printf("Offences (the first of each kind):\n%s", offences.c_str());
    if (wanted.seeds <= 0)
        std::printf("MISSED  no seed was judged: this bench has found nothing out\n");
    else if (wanted.delays || (wanted.kind.empty() && wanted.family != "hands"))
        met = print_delays(wanted.delays ? wanted.seeds : std::min(wanted.seeds, compared_seeds)) && met;
    return met && wanted.seeds > 0 ? 0 : 1;
}

int bench_restarts(Wanted const& wanted) {
    RestartScore all;
    std::printf("%-20s %4s %8s %5s | %11s %11s %10s %11s\n", "kind", "runs", "restarts", "told",
                "false clear", "raised anew", "not raised", "not cleared");
    auto const row = [](std::string const& name, RestartScore const& s) {
        std::printf("%-20s %4d %8d %5d | %11d %11d %10d %11d\n", name.c_str(), s.runs, s.restarts, s.told,
                    s.false_clear, s.raised_anew, s.not_raised, s.not_cleared);
    };
    for (auto const& kind : kinds()) {
        if (kind.family != Family::vessels || (!wanted.kind.empty() && wanted.kind != kind.name)) continue;
        RestartScore of_kind;
        for (int seed = 1; seed <= wanted.seeds; ++seed)
            if (wanted.only_seed <= 0 || seed == wanted.only_seed)
                of_kind.add(
                    compare_with_restarts(kind.make(static_cast<std::uint64_t>(seed)), wanted.restarts));
        row(std::string(kind.name), of_kind);
        all.add(of_kind);
    }
    row("all", all);
    for (auto const& offence : all.offences) std::printf("  %s\n", offence.c_str());
    int const loud = all.wrong() - all.low;
    bool const met = loud <= most_differing * all.told && all.told > 0;
    std::printf(
        "\n%s  what is told over %d restarts is that of the undisturbed runs: %d of %d medium and high "
        "messages "
        "differ, at most 1 %%; of the low ones %d\n",
        met ? "met   " : "MISSED", all.restarts, loud, all.told, all.low);
    return met ? 0 : 1;
}

}  // namespace

int main(int argc, char* argv[]) {
    Wanted wanted;
    for (int i = 1; i < argc; ++i) {
        std::string const word = argv[i];
        auto const value = [&] { return i + 1 < argc ? std::string(argv[++i]) : std::string(); };
        if (word == "--seeds")
            wanted.seeds = std::atoi(value().c_str());
        else if (word == "--first")
            wanted.first = std::atoi(value().c_str());
        else if (word == "--seed")
            wanted.only_seed = std::atoi(value().c_str());
        else if (word == "--restarts")
            wanted.restarts = std::atoi(value().c_str());
        else if (word == "--tuned")
            wanted.tuned = std::atoi(value().c_str());
        else if (word == "--random")
            wanted.random = std::atoi(value().c_str());
        else if (word == "--family")
            wanted.family = value();
        else if (word == "--charts")
            wanted.charts = value();
        else if (word == "--kind")
            wanted.kind = value();
        else if (word == "--deaf")
            wanted.deaf = value();
        else if (word == "--delays")
            wanted.delays = true;
        else if (word == "--offences")
            wanted.offences = true;
        else {
            std::fprintf(stderr,
                         "usage: scenarios [--seeds N] [--tuned N] [--family vessels|hands] [--kind NAME] "
                         "[--seed N] [--first SEED] [--charts FOLDER] [--restarts N] [--offences] [--delays] "
                         "[--deaf ALARM] "
                         "| --random "
                         "N\n");
            return 2;
        }
    }
    if (wanted.random > 0) return random_signals(wanted.first.value_or(1), wanted.random) ? 0 : 1;
    return wanted.restarts > 0 ? bench_restarts(wanted) : bench(wanted);
}
