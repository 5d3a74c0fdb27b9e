// Which alarm tells a fault of a probe: each kind has exactly one. For watches; pure.
#pragma once

#include "drivers/reading/fault.hpp"

namespace ingle {

enum class FaultOwner { probe_open, probe_short, probe_implausible, probe_silent };

constexpr FaultOwner owner_of(FaultKind kind) {
    switch (kind) {
        case FaultKind::open:
            return FaultOwner::probe_open;
        case FaultKind::short_to_ground:
        case FaultKind::short_to_supply:
        case FaultKind::short_circuit:
            return FaultOwner::probe_short;
        case FaultKind::out_of_range:
            return FaultOwner::probe_implausible;
        default:  // also what a later driver may add
            return FaultOwner::probe_silent;
    }
}

}  // namespace ingle
