// Which boot this is.
#pragma once

#include <string>

namespace ingle::logbook {

// The kernel's word for it. Where that cannot be read (no /proc) each process is taken for a boot of its own:
// whether two of them share a clock since the boot is not known.
std::string kernel_boot_id();

}  // namespace ingle::logbook
