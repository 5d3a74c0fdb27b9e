// What `ingle doctor` asks of a logbook file: is it sound, is there room, how does it grow. Reads only; may
// take long on a large file. Any thread.
#pragma once

#include <string>
#include <vector>

namespace ingle::logbook {

struct Finding {
    enum class Level { good, doubtful, bad };
    Level level = Level::good;
    std::string subject;  // "integrity", "space", "growth", ...
    std::string text;     // what was found, with its numbers
    std::string remedy;   // what to do; "" if nothing
};

std::vector<Finding> examine(std::string const& path);

}  // namespace ingle::logbook
