// What the files of one IIO temperature channel say. Pure; any thread.
// Layout: Linux Documentation/ABI/testing/sysfs-bus-iio: milli-degC = (raw + offset) * scale, or input.
#pragma once

#include <optional>
#include <string_view>

#include "drivers/bus/sysfs.hpp"
#include "drivers/reading/reading.hpp"
#include "drivers/thermocouple/its90.hpp"

namespace ingle {

struct IioChannel {
    FileText input, raw, offset, scale;  // offset: absent = 0
};
struct IioFiles {
    std::string name;  // of the device: maxim_thermocouple, max31856, mcp9600, ...
    IioChannel hot;
    IioChannel cold;                // in_temp_ambient; may be absent
    FileText fault_oc, fault_ovuv;  // of the max31856; may be absent
    std::optional<ThermocoupleType> type;
};

// The MAX31855's straight line is undone (the kernel passes it on) where the type is known and the cold
// junction is there; the MAX6675 behind the same kernel driver has no cold junction and keeps its line.
Reading decode_iio(Instant at, IioFiles const& files);

}  // namespace ingle
