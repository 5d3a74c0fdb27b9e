// Several dishes in one vessel whose stages each ask for a band: what holds is common to as many as can be,
// in the order in which they came into the vessel. A stage that cannot have its band there is told of.
#include <algorithm>

#include "daemon/kitchen/impl.hpp"
#include "daemon/watches/words.hpp"

namespace ingle {
namespace {

constexpr double least_common_k = 2;  // a narrower band is held by nobody by hand

// Whoever began it has been answered so: this is for the others, and for a stage that began by itself.
constexpr AlarmType conflict_types[] = {{.name = "band-conflict",
                                         .priority = Priority::medium,
                                         .on_delay = std::chrono::seconds(20),
                                         .over = "has no dishes any more that ask for different bands"}};

double width_of(Band const& band) {
    return (band.high - band.low).kelvin;
}

// Empty: both cannot be held in one vessel.
std::optional<Band> common(Band const& one, Band const& other) {
    Band const both{std::max(one.low, other.low), std::min(one.high, other.high)};
    double const least = std::min({least_common_k, width_of(one), width_of(other)});
    if (both.high < both.low || width_of(both) < least) return std::nullopt;
    return both;
}

}  // namespace

std::span<AlarmType const> conflict_alarms() {
    return conflict_types;
}

std::optional<Band> band_of_stages(std::span<StageBand const> stages) {
    if (stages.empty()) return std::nullopt;
    Band band = stages.front().band;
    for (auto const& stage : stages.subspan(1))
        if (auto const both = common(band, stage.band)) band = *both;
    return band;
}

bool asks_for_another(std::span<StageBand const> stages, int dish) {
    auto const own = std::ranges::find_if(stages, [&](StageBand const& stage) { return stage.dish == dish; });
    return own != stages.end() && !common(*band_of_stages(stages), own->band);
}

// "" = it has the band that it asks for, or a person has said what holds.
std::string Kitchen::Impl::band_conflict(int number) const {
    auto const* stage = dishes[static_cast<std::size_t>(number)].cook.stage();
    if (!stage || !stage->band || stage->vessel < 0) return {};
    auto const& vessel = vessels[static_cast<std::size_t>(stage->vessel)];
    if ((vessel.held && vessel.person_is_newer) || !vessel.band || !asks_for_another(vessel.stages, number))
        return {};
    auto const& name = settings.vessels[static_cast<std::size_t>(stage->vessel)].name;
    Words const words(settings.units);
    auto const first = vessel.stages.front().dish;
    return name + " is held at " + words.band(vessel.band->low.celsius, vessel.band->high.celsius) + " for " +
           settings.dishes[static_cast<std::size_t>(first)].name + " (" +
           std::string(dishes[static_cast<std::size_t>(first)].cook.stage_name()) + "), and " + stage->name +
           " of " + settings.dishes[static_cast<std::size_t>(number)].name + " asks for " +
           words.band(stage->band->low.celsius, stage->band->high.celsius) +
           ". Move one of them, or say what holds: `ingle hold " + name + "` with a band.";
}

std::int64_t Kitchen::Impl::place_of_band(int number) const {
    auto const* stage = dishes[static_cast<std::size_t>(number)].cook.stage();
    if (!stage || stage->vessel < 0) return 0;
    auto const& stages = vessels[static_cast<std::size_t>(stage->vessel)].stages;
    return std::ranges::find(stages, number, &StageBand::dish) - stages.begin();
}

void Kitchen::Impl::put_band_at(int number, std::int64_t place) {
    auto const* stage = dishes[static_cast<std::size_t>(number)].cook.stage();
    if (!stage || stage->vessel < 0) return;
    auto& stages = vessels[static_cast<std::size_t>(stage->vessel)].stages;
    auto const own = std::ranges::find(stages, number, &StageBand::dish);
    if (own == stages.end()) return;
    auto const band = *own;
    stages.erase(own);
    stages.insert(stages.begin() + std::clamp<std::ptrdiff_t>(place, 0, std::ssize(stages)), band);
}

void Kitchen::Impl::judge_band_conflict(int number) {
    Finding finding;
    finding.type = &conflict_types[0];
    finding.text = band_conflict(number);
    finding.truth = finding.text.empty() ? Truth::absent : Truth::present;
    judge({SubjectKind::dish, number}, std::move(finding), {});
}

}  // namespace ingle
