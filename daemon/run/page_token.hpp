// The token with which the page may change something. Blocking: a small file of the state folder.
#pragma once

#include <string>

#include "config/settings.hpp"

namespace ingle {

// That of the kitchen file. Where it names none and only this machine can ask: one of the daemon's own, made
// once and kept in page.token of the state folder, which only the daemon's user may read. "" = there is none,
// and TCP may change nothing: the file cannot be made, or others may read it.
std::string page_token(ServeSettings const& serve, std::string const& state_folder);

}  // namespace ingle
