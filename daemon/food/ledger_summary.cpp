// All answers in one: the worst of them first, in a plain sentence.
#include <algorithm>
#include <array>

#include "daemon/food/ledger_impl.hpp"
#include "daemon/food/ledger_words.hpp"

namespace ingle {
namespace {

struct RuleWords {
    std::string_view rule, wrong, open;  // what to say of a limit that was not kept, and of one not known
};
constexpr std::array rule_names{
    RuleWords{"core-target", "the core did not reach what is asked of it",
              "whether the core reached what is asked of it"},
    RuleWords{"trichinella", "the core did not reach what kills Trichinella",
              "whether the core reached what kills Trichinella"},
    RuleWords{"reheating", "it was not heated through again in time",
              "whether it was heated through again in time"},
    RuleWords{"cooling", "it did not cool in time", "whether it cooled in time"},
    RuleWords{"danger-zone", "it was in the danger zone for too long", "how long it was in the danger zone"},
    RuleWords{"hot-hold", "it was not kept hot all the time", "whether it was kept hot all the time"},
    RuleWords{"cold-hold-2h", "it was too warm for too long within a day",
              "whether it was too warm for too long within a day"},
    RuleWords{"cold-hold", "it was not kept cold all the time", "whether it was kept cold all the time"},
    RuleWords{"lethality", "the heat did not do what its table asks", "what the heat was worth"},
};

int badness(std::string_view answer) {
    if (answer.starts_with("missed") || answer == "not reached") return 3;
    if (answer == "unknown" || answer == "food not measured") return 2;
    return answer == "not reached so far" ? 1 : 0;
}

}  // namespace

Verdict FoodLedger::Impl::in_short(std::vector<Verdict> const& all) const {
    Verdict v{"in short", "", "", "the rules below"};
    int worst = 0;
    std::string wrong, so_far;
    bool const again = std::ranges::any_of(cores, [](auto const& core) { return core.reheating.ever(); });
    for (auto const& name : rule_names) {
        auto const row = std::ranges::find(all, name.rule, &Verdict::rule);
        if (row == all.end()) continue;
        int const bad = badness(row->answer);
        if (bad == 1) so_far += (so_far.empty() ? "" : ", and ") + text(name.wrong);
        if (bad == 0 || bad < worst) continue;
        auto words = text(bad == 2 ? name.open : name.wrong);
        if (again && name.rule == "core-target") words += " after it was heated again";
        wrong = bad > worst ? words : wrong + ", and " + words;
        if (bad > worst) {
            v.answer = row->answer;
            v.source = row->source;
        }
        worst = bad;
    }
    switch (worst) {
        case 3:
            v.text = "By what was measured, " + wrong + ".";
            if (discard()) v.text += " By the rules named it is thrown away.";
            break;
        case 2:
            v.text = "Not known: " + wrong +
                     ". To know it, the food itself would have to be read from the begin to the end.";
            if (!so_far.empty()) v.text += " So far " + so_far + ".";
            break;
        case 1:
            v.text = "Still open: so far " + wrong + ".";
            break;
        default:
            v.answer = nothing_missed;
            v.text = "As far as it was read, no limit of those below was passed.";
    }
    return v;
}

std::string FoodLedger::class_asks_more(double reached_c) const {
    return impl_->class_asks_more(reached_c);
}

}  // namespace ingle
