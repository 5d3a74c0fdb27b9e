#include "daemon/logbook/boot_id.hpp"

#include <unistd.h>

#include <fstream>
#include <random>

namespace ingle::logbook {

std::string kernel_boot_id() {
    static const std::string own =
        "process-" + std::to_string(std::random_device{}()) + "-" + std::to_string(getpid());
    std::ifstream in("/proc/sys/kernel/random/boot_id");
    std::string id;
    return std::getline(in, id) && !id.empty() ? id : own;
}

}  // namespace ingle::logbook
