#include "tools/cli/output/plan_words.hpp"

#include "config/no_vessel.hpp"
#include "tools/cli/output/text.hpp"

namespace ingle::cli {
namespace {

std::string end_words(StageSettings const& stage, TemperatureUnit unit) {
    auto const& until = stage.until;
    if (until.none()) return "it ends when you say `ingle next`";
    std::string text;
    auto const add = [&](std::string part) { text += (text.empty() ? "until " : " and ") + std::move(part); };
    if (until.core) add("the core is at " + show(*until.core, unit));
    if (until.time)
        add(show(*until.time) + " have passed" +
            (stage.band && !stage.counts_from_begin ? " in the band" : " from its start"));
    if (until.lethality) add(fixed(*until.lethality, 1) + " log10 of lethality are reached");
    return text;
}

std::string sentence(StageSettings const& stage, std::string const& vessel, TemperatureUnit unit) {
    auto text = stage.name + ": ";
    if (stage.does) text += std::string(to_word(*stage.does)) + " ";
    text += vessel.empty() ? "in the dish's vessel" : vessel == no_vessel ? "in no vessel" : "in " + vessel;
    if (stage.band) text += " at " + band_text(stage.band->low.celsius, stage.band->high.celsius, unit);
    text += ", " + end_words(stage, unit) + ".";
    if (stage.at_least) text += " It takes at least " + show(*stage.at_least) + ".";
    if (stage.at_most) text += " You are told when it takes longer than " + show(*stage.at_most) + ".";
    if (stage.core_most) text += " You are told when the core passes " + show(*stage.core_most, unit) + ".";
    if (stage.hands) text += " It needs you for " + show(*stage.hands) + ".";
    return text;
}

}  // namespace

std::vector<std::string> plan_sentences(PlanSettings const& plan, TemperatureUnit unit) {
    std::vector<std::string> all;
    for (std::size_t i = 0; i < plan.stages.size(); ++i)
        all.push_back(
            sentence(plan.stages[i], i < plan.stage_vessels.size() ? plan.stage_vessels[i] : "", unit));
    return all;
}

}  // namespace ingle::cli
