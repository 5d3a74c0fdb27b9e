#include "daemon/food/recording_ledger.hpp"

#include <array>
#include <optional>
#include <string>
#include <utility>

namespace ingle {
namespace {

// What a recording in which food cools may be of: in a pot, put to chill, or left in a room.
constexpr std::array phases{FoodPhase::cooking, FoodPhase::chilling, FoodPhase::waiting};

bool good(CoolingAnswer answer) {
    return answer == CoolingAnswer::met || answer == CoolingAnswer::not_applicable;
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

// None the better than with any of them; missed, where it was by one and by none in time.
void bear_out(SeriesCooling& cooling, std::span<FoodSample const> series, std::span<FoodSample const> medium,
              LedgerSettings const& settings, std::string& why) {
    if (cooling.answer == CoolingAnswer::missed) return;
    bool all_good = good(cooling.answer), none_good = !all_good;
    std::optional<std::string> missed;
    std::string doubt;
    for (auto const phase : phases) {
        auto answers = ledger_answers(series, medium, settings, phase);
        bool const fine = good(answers.cooling);
        all_good = all_good && fine;
        none_good = none_good && !fine;
        if (answers.cooling == CoolingAnswer::missed) missed = answers.cooling_text;
        if (!fine) doubt = std::move(answers.cooling_text);
    }
    if (all_good || (!none_good && !good(cooling.answer))) return;
    if (none_good && !missed) return;
    cooling.answer = none_good ? CoolingAnswer::missed : CoolingAnswer::unknown;
    why = none_good ? *missed : why + "; not known all the same. " + doubt;
}

void bear_out(SeriesLethality& lethality, std::span<FoodSample const> series,
              std::span<FoodSample const> medium, LedgerSettings const& settings) {
    if (!lethality.log10) return;
    auto const answers = ledger_answers(series, medium, settings, FoodPhase::cooking);
    if (!answers.log10 || *answers.log10 >= *lethality.log10) return;
    lethality.log10 = answers.log10;
    lethality.why = answers.lethality_text;
}

}  // namespace ingle
