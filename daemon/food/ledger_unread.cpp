// A core probe that reads, and whose readings are not the core's: told, or nobody would know that nothing is
// known.
#include "daemon/food/ledger_impl.hpp"
#include "daemon/food/ledger_words.hpp"

namespace ingle {
namespace {

constexpr double unread_s = 600;
// Of a tip that was moved it takes longer to see that it is in a middle: it has to move as one does.
constexpr double moved_s = 1800;

std::string_view why_not(CoreDoubt doubt) {
    switch (doubt) {
        case CoreDoubt::at_medium:
            return "it is as warm as what is around the food";
        case CoreDoubt::above_boiling:
            return "the middle of a food gets no hotter than boiling water";
        case CoreDoubt::no_body:
            return "it warms or cools as air or a surface does, and not as the middle of a food";
        case CoreDoubt::stuck:
            return "it stands to the last digit where the middle of a food would have moved. Look whether "
                   "the "
                   "probe still measures";
        default:
            return "it was moved, or has not come to rest in the food";
    }
}

}  // namespace

FoodConcern FoodLedger::Impl::unread_concern() const {
    constexpr std::string_view alarm = "core-unread";
    if (!food->perishable) return none(alarm);
    bool const asked = is_heated(phase) || phase == FoodPhase::chilling || phase == FoodPhase::hot_holding;
    // Not for long enough to be told; what was told before goes on.
    bool waits = false;
    for (std::size_t i = 0; i < refused.size(); ++i) {
        if (!refused[i].since) continue;
        if (!refused[i].newest || now - *refused[i].newest > cores[i].longest_s(context())) {
            waits = true;
            continue;
        }
        double const length = now - std::max(*refused[i].since, phase_since);
        auto const doubt = evidence[i].doubt();
        // Where nothing is done to the food, a tip that is cold asks for nothing.
        if (!asked && refused[i].celsius <= medium_cold.limit_c() + rounding_k) continue;
        bool const moved = doubt == CoreDoubt::moved || doubt == CoreDoubt::unsettled;
        if (length < (moved ? moved_s : unread_s)) {
            waits = true;
            continue;
        }
        return orders(yes(alarm, Priority::medium, 0,
                          "What the core probe reads has not counted for " + span(length) + ": " +
                              std::string(why_not(doubt)) + ". The core is not known."),
                      Action::none, "Put the tip into the thickest part.");
    }
    return waits ? unknown(alarm) : none(alarm);
}

}  // namespace ingle
