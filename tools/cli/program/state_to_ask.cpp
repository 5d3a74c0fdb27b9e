#include "tools/cli/program/state_to_ask.hpp"

#include <cstdlib>
#include <system_error>

#include "daemon/wiring/state_folder.hpp"

namespace ingle::cli {
namespace {

namespace fs = std::filesystem;

bool is_used(fs::path const& folder) {
    for (auto const* name : {"ingled.sock", "logbook.db"}) {
        std::error_code error;
        if (fs::exists(folder / name, error) || error == std::errc::permission_denied) return true;
    }
    return false;
}

}  // namespace

fs::path state_to_ask(fs::path const& service) {
    auto own = default_state_folder();
    for (auto const* name : {"INGLE_STATE", "STATE_DIRECTORY"})
        if (char const* value = std::getenv(name); value && *value) return own;
    return is_used(service) && !is_used(own) ? service : own;
}

}  // namespace ingle::cli
