// Whose daemon the command line asks where nobody names a state folder.
#pragma once

#include <filesystem>

namespace ingle::cli {

// Where the service keeps its state (config/system/ingled.service).
inline constexpr char const* service_state = "/var/lib/ingle";

// The state folder of this user's own daemon (default_state_folder) if it was named by $INGLE_STATE or
// $STATE_DIRECTORY or has ever been used, or if the service's was not; else `service`, also where this user
// may not look into it: then the command says what is to be done about that.
std::filesystem::path state_to_ask(std::filesystem::path const& service);

}  // namespace ingle::cli
