// 200 seeded suppers through the core: were the dishes on the table within what the schedule said at
// breakfast, and was what came late told of while there was something to do? Judged on seeds that nothing was
// tuned on.
#include <algorithm>
#include <cmath>
#include <cstdio>
#include <cstdlib>
#include <string>
#include <vector>

#include "tests/suppers/evening.hpp"

namespace {

using namespace ingle::suppers;

constexpr char const* names[dishes] = {"ham", "roll", "terrine", "stock", "pie"};
constexpr int first_tuned = 1, first_judged = 1001;
constexpr int late_from = 300;      // s after its time, as the program counts it
constexpr double most_in_vain = 0;  // of those that are late
constexpr double least_inside = 0.80, most_inside = 0.95;
constexpr int enough_suppers = 100;   // to say that an interval is too wide
constexpr double uncertain_min = 15;  // an interval that is at least so wide

struct Count {
    int said = 0, inside = 0, early = 0, late_of_it = 0;
    int served_late = 0, warned = 0, saved = 0, unwarned = 0, in_vain = 0, not_said = 0, not_served = 0,
        raw = 0;
    int uncertain = 0, uncertain_inside = 0;
    std::vector<double> widths;  // min
    void add(Count const& other) {
        said += other.said, inside += other.inside, early += other.early, late_of_it += other.late_of_it;
        served_late += other.served_late, warned += other.warned, saved += other.saved,
            unwarned += other.unwarned;
        in_vain += other.in_vain, not_said += other.not_said, not_served += other.not_served,
            raw += other.raw;
        uncertain += other.uncertain, uncertain_inside += other.uncertain_inside;
        widths.insert(widths.end(), other.widths.begin(), other.widths.end());
    }
};
struct Counts {
    int suppers = 0;
    Count of[dishes];
    Count all() const {
        Count sum;
        for (auto const& one : of) sum.add(one);
        return sum;
    }
    std::vector<std::string> offences;
};

double minutes(int s) {
    return (s - breakfast) / 60.0;
}

bool is_late(Served const& one) {
    return !one.ready || *one.ready >= one.serve_at + late_from;
}

// The same supper by another manner, run once.
class Again {
public:
    Again(Supper const& supper, Manner const& manner) : supper_(supper), manner_(manner) {}
    bool late(int dish) {
        if (!evening_) evening_ = run(supper_, manner_);
        return is_late(evening_->served[static_cast<std::size_t>(dish)]);
    }

private:
    Supper const& supper_;
    Manner manner_;
    std::optional<Evening> evening_;
};

// Late by a cook who only kept to the schedule: was there a word of it, and does it save the dish?
void judge_late(Again& heeding, Again& hottest, int dish, Served const& one, Count& count,
                std::string& offence) {
    ++count.served_late;
    if (!one.warnings.empty()) {
        ++count.warned;
        if (!heeding.late(dish)) return void(++count.saved);
    }
    if (hottest.late(dish))
        return;  // all the heat that the bands allow, from breakfast on, does not help either
    if (one.warnings.empty())
        ++count.unwarned, offence += ", never told of";
    else
        ++count.in_vain, offence += ", told of too late";
}

void add(Counts& counts, std::uint64_t seed, bool details) {
    auto const supper = make_supper(seed);
    auto const evening = run(supper);
    Again heeding(supper, {.heeds = true}), hottest(supper, {.heeds = true, .top_from = breakfast});
    ++counts.suppers;
    for (int d = 0; d < dishes; ++d) {
        auto const& one = evening.served[static_cast<std::size_t>(d)];
        auto& count = counts.of[d];
        std::string offence;
        if (one.short_of_target_k.value_or(0) > 1) ++count.raw, offence += ", raw";
        if (!one.ready) ++count.not_served, offence += ", never served";
        auto const& said = one.at_breakfast;
        bool const open = said && std::max(said->late, one.serve_at) > breakfast && one.serve_at > breakfast;
        if (!said) ++count.not_said;
        if (open && one.ready) {
            int const early = std::max(said->early, one.serve_at), late = std::max(said->late, one.serve_at);
            ++count.said;
            count.widths.push_back((late - early) / 60.0);
            bool const sooner = *one.ready<early - a_minute, later = *one.ready> late + a_minute;
            bool const inside = !sooner && !later;
            count.early += sooner, count.late_of_it += later, count.inside += inside;
            if (late - early >= uncertain_min * a_minute) ++count.uncertain, count.uncertain_inside += inside;
        }
        if (is_late(one)) judge_late(heeding, hottest, d, one, count, offence);
        if (details || !offence.empty()) {
            char text[300];
            std::snprintf(text, sizeof text,
                          "seed %llu %-8s to be served %4.0f begun %5.0f served %4.0f; breakfast %4.0f to "
                          "%4.0f, chance %.2f; warned %4.0f%s",
                          static_cast<unsigned long long>(seed), names[d], minutes(one.serve_at),
                          minutes(one.begun.value_or(-99999)), minutes(one.ready.value_or(-99999)),
                          minutes(said ? said->early : -99999), minutes(said ? said->late : -99999),
                          said ? said->chance : -1,
                          minutes(one.warnings.empty() ? -99999 : one.warnings.front().at), offence.c_str());
            if (details) {
                std::printf("%s\n", text);
                for (auto const& w : one.warnings)
                    std::printf("      %4.0f %s\n", minutes(w.at), w.text.c_str());
            }
            if (!offence.empty()) counts.offences.emplace_back(text);
        }
    }
    std::fflush(stdout);
}

void print(char const* what, Counts const& counts) {
    std::printf("%s, %d suppers\n%-10s %5s %7s %6s %6s %9s | %5s %7s %6s %8s %8s | %8s %4s\n", what,
                counts.suppers, "", "said", "inside", "early", "late", "width min", "late", "warned", "saved",
                "unwarned", "in vain", "unserved", "raw");
    auto const row = [](char const* name, Count c) {
        std::ranges::sort(c.widths);
        std::printf("%-10s %5d %6.1f%% %6d %6d %9.0f | %5d %7d %6d %8d %8d | %8d %4d\n", name, c.said,
                    100.0 * c.inside / std::max(c.said, 1), c.early, c.late_of_it,
                    c.widths.empty() ? 0 : c.widths[c.widths.size() / 2], c.served_late, c.warned, c.saved,
                    c.unwarned, c.in_vain, c.not_served, c.raw);
    };
    for (int d = 0; d < dishes; ++d) row(names[d], counts.of[d]);
    row("all", counts.all());
}

// How many of so many may be inside at least, were 80 % of all: 1 in 100 draws is below it.
int least_of(int count) {
    double const n = count;
    return static_cast<int>(
        std::floor(n * least_inside - 2.33 * std::sqrt(n * least_inside * (1 - least_inside))));
}

bool met(bool is, std::string const& what) {
    std::printf("%s  %s\n", is ? "met   " : "MISSED", what.c_str());
    return is;
}

bool judge(Counts const& counts) {
    auto const all = counts.all();
    auto const n = [](int count) { return std::to_string(count); };
    bool ok = met(all.said > 0 && all.inside >= least_of(all.said),
                  "served within what was said at breakfast: " + n(all.inside) + " of " + n(all.said) +
                      ", at least " + n(least_of(all.said)));
    for (int d = 0; d < dishes; ++d) {
        auto const& of = counts.of[d];
        if (of.said == 0) continue;
        bool const enough = of.inside >= least_of(of.said);
        ok =
            met(enough, std::string("of them ") + names[d] + ": " + n(of.inside) + " of " + n(of.said)) && ok;
    }
    if (counts.suppers >= enough_suppers)
        met(all.uncertain_inside <= most_inside * all.uncertain,
            "of those that were not sure at breakfast at most 95 %, or it was said too widely: " +
                n(all.uncertain_inside) + " of " + n(all.uncertain) + " (told, not judged)");
    ok =
        met(all.unwarned == 0, "late with no word of it, though it could be saved: " + n(all.unwarned)) && ok;
    ok = met(all.in_vain <= most_in_vain * all.served_late,
             "late with a word that came too late: " + n(all.in_vain) + " of " + n(all.served_late)) &&
         ok;
    ok = met(all.not_served + all.raw == 0, "not served, or not done: " + n(all.not_served + all.raw)) && ok;
    return ok;
}

}  // namespace

int main(int argc, char* argv[]) {
    int judged = 4, tuned = 1, one = 0, first = first_judged;
    for (int i = 1; i < argc; ++i) {
        std::string const word = argv[i];
        auto const number = [&] { return i + 1 < argc ? std::atoi(argv[++i]) : 0; };
        if (word == "--judged")
            judged = number();
        else if (word == "--tuned")
            tuned = number();
        else if (word == "--first")
            first = number();
        else if (word == "--seed")
            one = number();
        else
            return std::fprintf(stderr,
                                "usage: suppers [--judged N] [--tuned N] [--first SEED] [--seed SEED]\n"),
                   2;
    }
    Counts of_tuned, of_judged;
    if (one > 0) return add(of_judged, static_cast<std::uint64_t>(one), true), print("one", of_judged), 0;
    for (int k = 0; k < tuned; ++k) add(of_tuned, static_cast<std::uint64_t>(first_tuned + k), false);
    for (int k = 0; k < judged; ++k) add(of_judged, static_cast<std::uint64_t>(first + k), false);
    print("tuned on", of_tuned), print("judged", of_judged);
    for (auto const& offence : of_judged.offences) std::printf("%s\n", offence.c_str());
    return judge(of_judged) ? 0 : 1;
}
