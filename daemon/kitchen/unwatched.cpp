// A vessel in which a dish cooks, or that somebody holds, and whose probe is gone from the kitchen file.
#include "daemon/kitchen/impl.hpp"

namespace ingle {
namespace {

constexpr AlarmType unwatched_types[] = {
    {.name = "vessel-unwatched", .priority = Priority::medium, .over = "is watched again"}};
constexpr std::int64_t had_probe = 1, lost_it = 2;  // as the memory has it

}  // namespace

std::span<AlarmType const> unwatched_alarms() {
    return unwatched_types;
}

// "": it has a probe, or never had one, or nobody needs it.
std::string Kitchen::Impl::why_unwatched(int number) const {
    auto const& vessel = vessels[static_cast<std::size_t>(number)];
    if (!vessel.lost_probe || settings.vessels[static_cast<std::size_t>(number)].medium >= 0) return {};
    auto const& name = settings.vessels[static_cast<std::size_t>(number)].name;
    std::string cooks;
    for (std::size_t d = 0; d < dishes.size(); ++d)
        if (dishes[d].cook.stage() && dishes[d].cook.vessel() == number)
            cooks += (cooks.empty() ? "" : " and ") + settings.dishes[d].name;
    bool const held = vessel.held && *vessel.held;
    if (cooks.empty() && !held) return {};
    return (cooks.empty() ? name + " is held at a band" : "In " + name + " cooks " + cooks) + ", and " +
           name +
           " has no probe in the kitchen file any more: how warm it is, is not watched. Put its `medium` "
           "back.";
}

void Kitchen::Impl::judge_unwatched() {
    for (int v = 0; v < static_cast<int>(vessels.size()); ++v) {
        auto& vessel = vessels[static_cast<std::size_t>(v)];
        if (!vessel.lost_probe) continue;
        Finding finding;
        finding.type = &unwatched_types[0];
        finding.text = why_unwatched(v);
        vessel.lost_probe = !finding.text.empty();
        if (!vessel.lost_probe) memory_dirty = true;
        finding.truth = vessel.lost_probe ? Truth::present : Truth::absent;
        judge({SubjectKind::vessel, v}, std::move(finding), {});
    }
}

void Kitchen::Impl::remember_watched(Memory& memory, int number, std::string const& prefix) const {
    if (settings.vessels[static_cast<std::size_t>(number)].medium >= 0)
        memory.put(prefix + "watched", had_probe);
    else if (vessels[static_cast<std::size_t>(number)].lost_probe)
        memory.put(prefix + "watched", lost_it);
}

void Kitchen::Impl::recall_watched(Memory const& memory, int number, std::string const& prefix,
                                   Effects& out) {
    auto const before = memory.integer(prefix + "watched");
    auto& vessel = vessels[static_cast<std::size_t>(number)];
    vessel.lost_probe = before.has_value();
    auto text = why_unwatched(number);
    vessel.lost_probe = before == lost_it || !text.empty();  // the alarm of before is over, or goes on
    if (before == had_probe && !text.empty())
        tell("not-restored", {SubjectKind::vessel, number}, std::move(text), out);
}

}  // namespace ingle
