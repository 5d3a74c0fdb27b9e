// SQLite's way to its files, guarded. The index of the write-ahead file is memory mapped from a file beside
// it: a program that shortens that file would kill with SIGBUS whoever looks at it next. Here an empty page
// of this process takes the place of the missing one, and whatever is open then fails with an I/O error until
// all of it was closed and opened anew; SQLite makes the index again from the write-ahead file.
#pragma once

#include <cstdint>

namespace ingle::logbook {

char const*
guarded_files();  // the name of the SQLite VFS; registers it, and its handler of SIGBUS, at the first call
std::uint64_t pages_missed();  // how often the handler was needed in this process

}  // namespace ingle::logbook
