// What is wrong with a kitchen file beyond its own words: what drivers, channels and this machine say to it.
// One validation for `ingle check`, the daemon's start and its reload.
#pragma once

#include "config/load.hpp"

namespace ingle {

// Files that keys of drivers and channels name, where they are relative, are beside the kitchen file.
void resolve_paths(Settings& settings);

// Adds an error for whatever can never work (a file, a column or a program that is not there, a url that is
// none, a secret that everybody can read, one that stands in the file itself), and a warning for what may be
// otherwise by the time that it matters: a device that is unplugged, a file that only the daemon's user may
// read, a serving time that is past (a daemon that starts again in the evening must watch all the same), no
// channel at all. Fills in the token of [serve]. Opens no device.
void check_for_use(Loaded& loaded);

}  // namespace ingle
