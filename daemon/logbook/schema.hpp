// The tables and views of the logbook file, as numbered migrations. Every version ever released can be
// opened; a newer one is refused. Used by the store and by tests.
#pragma once

#include <string>

#include "daemon/logbook/db.hpp"

namespace ingle::logbook {

constexpr int application_id = 0x494E474C;  // "INGL"
constexpr int page_size = 2048;

int newest_version();
// Brings an open file to `version`, one transaction a step. "" = done; else why it is refused (the file was
// not touched). What fails in SQLite stays in db.
std::string migrate(Database& db, int version = newest_version());

// What a reader must check. "" = it can be read.
std::string readable(Database& db);

}  // namespace ingle::logbook
