#include "daemon/food/recording_ledger.hpp"

#include <algorithm>
#include <array>
#include <optional>
#include <string>
#include <utility>
#include <vector>

namespace ingle {
namespace {

// What a recording in which food cools may be of: in a pot, put to chill, or left in a room.
constexpr std::array phases{FoodPhase::cooking, FoodPhase::chilling, FoodPhase::waiting};
constexpr double unheated_c = 45;  // nothing cooks in what was never warmer; a hot day's room is not

bool good(CoolingAnswer answer) {
    return answer == CoolingAnswer::met || answer == CoolingAnswer::not_applicable;
}

std::vector<FoodPhase> possible(std::span<FoodSample const> medium, std::optional<FoodPhase> said) {
    if (said) return {*said};
    bool read = false, warm = false;
    for (auto const& sample : medium)
        if (sample.celsius) read = true, warm = warm || *sample.celsius > unheated_c;
    std::vector<FoodPhase> all(phases.begin(), phases.end());
    if (read && !warm) std::erase(all, FoodPhase::cooking);
    return all;
}

Verdict of_rule(FoodLedger const& ledger, std::string_view rule) {
    for (auto& one : ledger.verdicts())
        if (one.rule == rule) return one;
    return {};
}

}  // namespace

RecordingAnswers ledger_answers(std::span<FoodSample const> series, std::span<FoodSample const> medium,
                                LedgerSettings settings, FoodPhase phase) {
    Instant const begun{};
    settings.dish.core = 0;
    settings.dish.more_cores.clear();
    settings.longest_step = from_seconds(longest_step_s(series));
    double const from = series.empty() ? 0 : series.front().t_s;
    FoodLedger ledger(std::move(settings), begun);
    ledger.stage(begun, phase);
    auto next = medium.begin();
    for (auto const& sample : series) {
        for (; next != medium.end() && next->t_s <= sample.t_s; ++next)
            if (next->celsius && next->t_s >= from)
                ledger.medium(begun + from_seconds(next->t_s - from), *next->celsius, Quality::good);
        auto const at = begun + from_seconds(sample.t_s - from);
        if (sample.celsius) ledger.take(at, 0, *sample.celsius, Quality::good);
        ledger.advance(at);
    }
    RecordingAnswers answers;
    auto cooling = of_rule(ledger, "cooling"), lethality = of_rule(ledger, "lethality");
    answers.cooling = ledger.summary().cooling;
    answers.cooling_text = std::move(cooling.text);
    answers.log10 = ledger.lethality_log10();
    answers.lethality_answer = std::move(lethality.answer);
    answers.lethality_text = std::move(lethality.text);
    return answers;
}

// Where all ledgers agree, theirs. Else none the better than with any of them; missed, where it was by one
// and by none in time.
void bear_out(SeriesCooling& cooling, std::span<FoodSample const> series, std::span<FoodSample const> medium,
              LedgerSettings const& settings, std::string& why, std::optional<FoodPhase> said) {
    std::vector<RecordingAnswers> all;
    for (auto const phase : possible(medium, said))
        all.push_back(ledger_answers(series, medium, settings, phase));
    auto const& first = all.front();
    bool const same = std::ranges::all_of(all, [&](auto& one) { return one.cooling == first.cooling; });
    bool const all_good = std::ranges::all_of(all, [](auto& one) { return good(one.cooling); });
    bool const none_good = std::ranges::none_of(all, [](auto& one) { return good(one.cooling); });
    if ((same && cooling.answer == first.cooling) || (all_good && good(cooling.answer))) return;
    if (same) {
        cooling.answer = first.cooling;
        why = first.cooling_text;
        return;
    }
    auto const missed = std::ranges::find(all, CoolingAnswer::missed, &RecordingAnswers::cooling);
    if (none_good && missed != all.end()) {
        why = missed->cooling_text;
        cooling.answer = CoolingAnswer::missed;
        return;
    }
    auto const doubt = std::ranges::find_if_not(all, good, &RecordingAnswers::cooling);
    if (good(cooling.answer) || missed == all.end()) {
        cooling.answer = CoolingAnswer::unknown;
        why += "; not known all the same. " + (doubt == all.end() ? first : *doubt).cooling_text;
    }
}

void bear_out(SeriesLethality& lethality, std::span<FoodSample const> series,
              std::span<FoodSample const> medium, LedgerSettings const& settings,
              std::optional<FoodPhase> said) {
    if (!lethality.log10) return;
    auto const answers = ledger_answers(series, medium, settings, said.value_or(FoodPhase::cooking));
    if (!answers.log10 || *answers.log10 >= *lethality.log10) return;
    lethality.log10 = answers.log10;
    lethality.why = answers.lethality_text;
}

}  // namespace ingle
