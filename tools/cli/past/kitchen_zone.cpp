#include "tools/cli/past/kitchen_zone.hpp"

#include "tools/cli/past/book.hpp"
#include "tools/cli/program/client.hpp"

namespace ingle::cli {

std::string kitchen_zone(Context const& context) {
    try {
        auto const daemon = Client(context.socket()).get("/api/now").value("daemon", Json::object());
        auto const zone = daemon.value("zone", Json());
        return zone.is_string() ? zone.get<std::string>() : "";
    } catch (Failure const&) {  // no daemon, or one that is busy: the record knows
    }
    try {
        return Book(context, "").settings_at(wall_now()).zone;
    } catch (Failure const&) {
        return "";
    }
}

}  // namespace ingle::cli
