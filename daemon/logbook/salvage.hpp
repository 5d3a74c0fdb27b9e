// A damaged logbook is moved aside, never deleted; what the daemon needs to go on is read out of it as far as
// it goes.
#pragma once

#include <cstdint>
#include <string>
#include <vector>

#include "daemon/logbook/logbook.hpp"

namespace ingle::logbook {

struct Salvage {
    std::string file;   // where the damaged one is now
    std::string what;   // what was wrong
    std::string cooks;  // "goose-roll (1), quince-tart (2)"
    Memory memory;
    bool memory_whole = false;  // every row of it could be read, and there were some
    std::string memory_uid;     // boot that the memory's instants are of
    std::int64_t memory_offset_ms = 0, memory_last_ms = 0;
    int memory_certain = 0;  // as in table boot
    std::vector<OutboxRow> pending;
    std::vector<CookBegun> running;
    std::int64_t last_alarm = 0, last_cook = 0;
};

std::string free_name(std::string const& path, char const* suffix);  // "<path><suffix><n>"; "" = none
// Renames `path` and its side files to the first free "<path>.damaged-<n>". "" = it could not be done.
std::string move_aside(std::string const& path);
Salvage salvage(std::string const& moved, std::string const& vfs);

}  // namespace ingle::logbook
