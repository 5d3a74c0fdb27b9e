// Where the API and the page are served.
#pragma once

#include <string>

#include "config/settings.hpp"
#include "daemon/web/server.hpp"

namespace ingle {

// The socket in the state folder (not on a disk that cannot be written), and the port where [serve] names
// one.
ServerSettings serving(Settings const& kitchen, std::string const& state_folder);

}  // namespace ingle
