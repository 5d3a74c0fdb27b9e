#include "daemon/web/wall_text.hpp"

#include <ctime>

#include <chrono>

#include "drivers/reading/iso_time.hpp"

namespace ingle {

std::string local_iso_time(WallMs at) {
    WallTime const wall{std::chrono::milliseconds(at)};
    auto const whole =
        static_cast<time_t>(std::chrono::floor<std::chrono::seconds>(wall).time_since_epoch().count());
    tm parts{};
    localtime_r(&whole, &parts);
    return iso_time(wall, std::chrono::minutes(parts.tm_gmtoff / 60));
}

}  // namespace ingle
