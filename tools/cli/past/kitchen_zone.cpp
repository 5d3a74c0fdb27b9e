#include "tools/cli/past/kitchen_zone.hpp"

#include "tools/cli/program/client.hpp"

namespace ingle::cli {

std::string kitchen_zone(Context const& context) {
    try {
        auto const daemon = Client(context.socket()).get("/api/now").value("daemon", Json::object());
        auto const zone = daemon.value("zone", Json());
        return zone.is_string() ? zone.get<std::string>() : "";
    } catch (Failure const&) {  // no daemon, or one that is busy
        return "";
    }
}

}  // namespace ingle::cli
