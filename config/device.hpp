// By what a replaced probe is recognised. Pure.
#pragma once

#include <string>

#include "config/settings.hpp"

namespace ingle {

// One word list per probe, of its driver's own keys: "port=/dev/ttyUSB0 channel=T1".
std::string device_of(ProbeSettings const& probe);

}  // namespace ingle
