#include "drivers/hwmon/decode.hpp"

#include <cerrno>

namespace ingle {

std::variant<double, Fault> decode_hwmon(std::string const& path, HwmonFiles const& files) {
    if (files.fault.error == 0 && files.fault.text != "0")
        return Fault{FaultKind::unspecified, path + ": the chip says that this value is not to be trusted"};
    if (files.enable.error == 0 && files.enable.text == "0")
        return Fault{FaultKind::no_reply, path + ": this temperature is switched off"};
    if (files.input.error == ENODATA) return Fault{FaultKind::no_reply, path + ": the chip has no value yet"};
    if (files.input.error != 0) return file_fault(path + "_input", files.input.error);
    auto const milli = file_number(files.input.text);
    if (files.input.text.empty()) return Fault{FaultKind::no_reply, path + "_input is empty"};
    if (!milli) return Fault{FaultKind::garbled, path + "_input holds no number"};
    if (*milli < -273'150.0 || *milli > 1'820'000.0)
        return Fault{FaultKind::out_of_range, path + "_input is no temperature: " + files.input.text};
    return *milli / 1000.0;
}

}  // namespace ingle
