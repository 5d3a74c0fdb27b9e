// What the daemon would be told by a writer.
#pragma once

#include <algorithm>
#include <mutex>
#include <string>
#include <vector>

#include "daemon/logbook/logbook.hpp"

namespace ingle::logbook::testing {

struct Told {
    std::mutex mutex;
    std::vector<Trouble> troubles;
    std::vector<Recovered> recoveries;
    std::vector<std::string> events, texts, lines;

    Callbacks callbacks() {
        Callbacks c;
        c.trouble = [this](Trouble const& t) {
            std::lock_guard const l(mutex);
            troubles.push_back(t);
        };
        c.recovered = [this](Recovered const& r) {
            std::lock_guard const l(mutex);
            recoveries.push_back(r);
        };
        c.event = [this](std::string const& n, std::string const& t) {
            std::lock_guard const l(mutex);
            events.push_back(n), texts.push_back(t);
        };
        c.log = [this](std::string const& line) {
            std::lock_guard const l(mutex);
            lines.push_back(line);
        };
        return c;
    }
    std::size_t count(std::string const& event) {
        std::lock_guard const l(mutex);
        return static_cast<std::size_t>(std::count(events.begin(), events.end(), event));
    }
};

}  // namespace ingle::logbook::testing
