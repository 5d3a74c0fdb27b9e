#include "drivers/iio/decode.hpp"

#include <cerrno>
#include <variant>

#include "drivers/thermocouple/chip_words.hpp"

namespace ingle {
namespace {

std::variant<double, Fault> celsius_of(IioChannel const& channel, std::string const& device) {
    bool const ready = channel.input.error == 0;
    auto const& file = ready ? channel.input : channel.raw;
    if (file.error == EINVAL || file.error == EIO)
        return Fault{FaultKind::unspecified,
                     device + ": the chip reports a fault: open, shorted, or no chip there"};
    if (file.error != 0) return file_fault(device, file.error);
    if (file.text.empty()) return Fault{FaultKind::no_reply, device + ": the file is empty"};
    auto number = file_number(file.text);
    if (!number) return Fault{FaultKind::garbled, device + ": no number: " + file.text};
    if (ready) return *number / 1000.0;
    auto const scale = file_number(channel.scale.text);
    auto const offset = channel.offset.error != 0 ? std::optional(0.0) : file_number(channel.offset.text);
    if (!scale || !offset) return Fault{FaultKind::garbled, device + ": the channel has no scale"};
    if (device == "mcp9600" && *number > 32767) number = *number - 65536;  // early kernels forgot the sign
    return (*number + *offset) * *scale / 1000.0;
}

}  // namespace

Reading decode_iio(Instant at, IioFiles const& files) {
    auto value = celsius_of(files.hot, files.name);
    auto const cold = celsius_of(files.cold, files.name);
    Reading reading{at, std::move(value), {}, {}, false};
    if (auto const* celsius = std::get_if<double>(&cold)) reading.cold_junction = *celsius;
    if (files.fault_oc.text == "1")
        reading.value = Fault{FaultKind::open, "open: the thermocouple wire is broken or unplugged"};
    else if (files.fault_ovuv.text == "1")
        reading.value =
            Fault{FaultKind::short_circuit, "the input is over or under the chip's supply: a short"};
    if (!reading.ok()) return reading;
    if (files.name == "maxim_thermocouple" && reading.cold_junction) {
        if (!files.type)
            reading.value = Fault{FaultKind::garbled,
                                  "the thermocouple's type is not known: say type = \"K\" or another"};
        else if (auto const straight =
                     straighten_max31855(*files.type, reading.celsius(), *reading.cold_junction))
            reading.value = *straight;
        else
            reading.value = Fault{FaultKind::out_of_range, "outside the range of the thermocouple's type"};
    }
    if (reading.ok() && (reading.celsius() < -273.15 || reading.celsius() > 1820.0))
        reading.value =
            Fault{FaultKind::out_of_range, files.name + ": no temperature that a kitchen can have"};
    return reading;
}

}  // namespace ingle
