#include "drivers/serial_line/drops.hpp"

namespace ingle {

void Drops::lost(Instant at) {
    if (!lost_) lost_ = at;
}

std::string Drops::back(Instant at, bool supply_is_low) {
    auto const gone = lost_ ? at - *lost_ : Span{};
    drops_.push_back(lost_.value_or(at));
    lost_.reset();
    while (at - drops_.front() > remembered) drops_.pop_front();
    std::string text = "was gone for " + std::to_string((gone.count() + 500) / 1000) + " s";
    if (drops_.size() > 1)
        text += ", " + std::to_string(drops_.size()) + " times in the last " +
                std::to_string((at - drops_.front()).count() / 60'000 + 1) + " min";
    if (supply_is_low) text += "; the board reports low supply voltage, which makes adapters drop";
    return text;
}

}  // namespace ingle
