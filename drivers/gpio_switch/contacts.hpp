// From looks at a line to a switch that changed: contacts bounce. Pure; owned by one driver.
#pragma once

#include <optional>

#include "drivers/reading/clock.hpp"

namespace ingle {

class Contacts {
public:
    static constexpr Span look_every{20};   // contacts bounce for some 10 ms:
    static constexpr int looks_needed = 3;  // this many looks in a row must agree

    // A button that is down when we start was not pressed for us: it must first be seen up.
    explicit Contacts(bool button) {
        if (button) told_ = true;
    }

    // The new state, when there is one to tell.
    std::optional<bool> look(bool closed) {
        seen_ = closed == last_ ? seen_ + 1 : 1;
        last_ = closed;
        if (seen_ != looks_needed || told_ == closed) return std::nullopt;
        told_ = closed;
        return closed;
    }

private:
    std::optional<bool> told_;
    bool last_ = false;
    int seen_ = 0;
};

}  // namespace ingle
