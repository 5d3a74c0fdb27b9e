// What the findings of one second ask of the cook: two of one dish, or of a dish and the vessel it is in,
// never ask for opposite things. The one that weighs less keeps its facts and loses its order.
#include <algorithm>

#include "daemon/kitchen/impl.hpp"

namespace ingle {
namespace {

struct Order {
    Judged* judged;
    Action action;
};

// Food that is to be thrown away needs nothing else; what boils over or burns comes before the food's hours;
// the food before the comfort of a band.
int weight(Judged const& judged, Action action) {
    auto const& finding = judged.finding;
    if (action == Action::discard) return 3;
    bool const high = !finding.yields && finding.priority.value_or(finding.type->priority) == Priority::high;
    if (judged.subject.kind == SubjectKind::dish) return 1;
    return high ? 2 : 0;
}

}  // namespace

void Kitchen::Impl::settle_orders() {
    auto const is_in = [&](Subject dish, Subject vessel) {
        return dish.kind == SubjectKind::dish && vessel.kind == SubjectKind::vessel &&
               dishes[static_cast<std::size_t>(dish.number)].cook.vessel() == vessel.number;
    };
    std::vector<Order> asking;
    for (auto& one : judged) {
        // What cannot be judged in this second keeps its alarm: food to be discarded stays so.
        bool const stands = one.finding.truth == Truth::unknown &&
                            desk.action_of(one.finding.type->name, one.subject) == Action::discard;
        auto const action = one.finding.truth == Truth::present ? one.finding.action
                            : stands                            ? Action::discard
                                                                : Action::none;
        if (action != Action::none) asking.push_back({&one, action});
    }
    std::ranges::stable_sort(asking, std::ranges::greater{},
                             [](Order const& one) { return weight(*one.judged, one.action); });
    for (auto weaker = asking.begin(); weaker != asking.end(); ++weaker) {
        auto const subject = weaker->judged->subject;
        auto const against = [&](Order const& stronger) {
            auto const other = stronger.judged->subject;
            // What is not told for now outweighs nothing; but it may be told again before its mute ends.
            if (!stronger.judged->muted_by.empty()) return false;
            bool const same = other == subject || is_in(other, subject) || is_in(subject, other);
            return same && opposed(stronger.action, weaker->action);
        };
        if (std::none_of(asking.begin(), weaker, against)) continue;
        auto& finding = weaker->judged->finding;
        finding.action = Action::none;
        finding.order.clear();
        if (subject.kind == SubjectKind::vessel)
            vessels[static_cast<std::size_t>(subject.number)].advice.clear();
    }
    for (auto& one : judged)
        if (!one.finding.order.empty()) one.finding.text += " " + one.finding.order;
}

}  // namespace ingle
