// Why there is no temperature. A fault is never turned into a number. Values only; any thread.
#pragma once

#include <optional>
#include <string>
#include <string_view>

namespace ingle {

enum class FaultKind {
    open,  // thermocouple wire broken or unplugged
    short_to_ground,
    short_to_supply,
    short_circuit,   // shorted, the source does not say to what
    garbled,         // bytes arrived that make no reading (checksum, syntax, wrong speed)
    no_reply,        // nothing answered: bus dead, time-out, empty file
    absent,          // the device or file is not there
    refused,         // permission, or somebody else holds it
    out_of_range,    // outside what the sensor or the probe's job allows
    power_on_value,  // the value a sensor shows before its first conversion
    not_powered,     // the sensor says that its supply is too weak
    stale,           // a value older than the conversion it claims to be
    unspecified      // the device reports a fault and gives no cause
};

struct Fault {
    FaultKind kind = FaultKind::unspecified;
    std::string
        reason;  // one sentence for the cook, e.g. "open: the thermocouple wire is broken or unplugged"
    friend bool operator==(Fault const&, Fault const&) = default;
};

std::string_view to_word(FaultKind kind);                         // "open", "short-to-ground", ...
std::optional<FaultKind> fault_kind_from(std::string_view word);  // inverse of to_word

}  // namespace ingle
