// What the findings of one second ask of the cook: two of one dish, or of a dish and the vessel it is in,
// never ask for opposite things. The one that weighs less keeps its facts and loses its order.
#include <algorithm>

#include "daemon/kitchen/impl.hpp"

namespace ingle {
namespace {

// Food that is to be thrown away needs nothing else; what boils over or burns comes before the food's hours;
// the food before the comfort of a band.
int weight(Judged const& judged) {
    auto const& finding = judged.finding;
    if (finding.action == Action::discard) return 3;
    bool const high = finding.priority.value_or(finding.type->priority) == Priority::high;
    if (judged.subject.kind == SubjectKind::dish) return 1;
    return high ? 2 : 0;
}

bool asks(Judged const& judged) {
    return judged.finding.truth == Truth::present && judged.finding.action != Action::none &&
           judged.muted_by.empty();
}

}  // namespace

void Kitchen::Impl::settle_orders() {
    auto const is_in = [&](Subject dish, Subject vessel) {
        return dish.kind == SubjectKind::dish && vessel.kind == SubjectKind::vessel &&
               dishes[static_cast<std::size_t>(dish.number)].cook.vessel() == vessel.number;
    };
    std::vector<Judged*> asking;
    for (auto& one : judged)
        if (asks(one)) asking.push_back(&one);
    std::ranges::stable_sort(asking, std::ranges::greater{}, [](auto const* one) { return weight(*one); });
    for (auto weaker = asking.begin(); weaker != asking.end(); ++weaker) {
        auto const against = [&](Judged const* stronger) {
            bool const same = stronger->subject == (*weaker)->subject ||
                              is_in(stronger->subject, (*weaker)->subject) ||
                              is_in((*weaker)->subject, stronger->subject);
            return same && opposed(stronger->finding.action, (*weaker)->finding.action);
        };
        if (std::none_of(asking.begin(), weaker, against)) continue;
        auto& finding = (*weaker)->finding;
        finding.action = Action::none;
        finding.order.clear();
        if (auto const subject = (*weaker)->subject; subject.kind == SubjectKind::vessel)
            vessels[static_cast<std::size_t>(subject.number)].advice.clear();
    }
    for (auto& one : judged)
        if (!one.finding.order.empty()) one.finding.text += " " + one.finding.order;
}

}  // namespace ingle
