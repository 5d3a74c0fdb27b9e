// One thing that a probe said: a temperature in degC or a fault, with its boot-time stamp. Values only.
#pragma once

#include <cstdint>
#include <optional>
#include <utility>
#include <variant>

#include "drivers/reading/clock.hpp"
#include "drivers/reading/fault.hpp"

namespace ingle {

struct Reading {
    Instant at{};                         // when it was measured or arrived
    std::variant<double, Fault> value;    // degC, always finite; or why not
    std::optional<double> cold_junction;  // degC
    std::optional<std::uint32_t> word;    // what the chip sent, for the record
    bool burst = false;                   // arrived together with others: the stamp is the arrival's

    static Reading good(Instant at, double celsius) { return {at, celsius, {}, {}, false}; }
    static Reading faulty(Instant at, FaultKind kind, std::string reason) {
        return {at, Fault{kind, std::move(reason)}, {}, {}, false};
    }
    bool ok() const { return std::holds_alternative<double>(value); }
    double celsius() const { return std::get<double>(value); }     // only if ok()
    Fault const& fault() const { return std::get<Fault>(value); }  // only if !ok()
};

}  // namespace ingle
