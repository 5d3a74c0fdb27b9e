// A secret that the daemon makes for itself and keeps in the state folder. Blocking: a small file.
#pragma once

#include <string>

namespace ingle {

// What the file holds; where there is none it is made, once, with that many letters of 5 random bits each and
// for the daemon's user only. "" = there is none: it cannot be made, or others may read it.
std::string own_secret(std::string const& path, std::size_t length);

}  // namespace ingle
