// The reader's inside, shared by its source files.
#pragma once

#include <functional>
#include <map>
#include <string>
#include <vector>

#include "daemon/logbook/db.hpp"
#include "daemon/logbook/pack.hpp"
#include "daemon/logbook/reader.hpp"

namespace ingle::logbook {

struct Stretch {  // [from, to) of one boot, ms
    std::int64_t boot = 0, from = 0, to = 0;
};
struct Scale {  // one calibration of a probe
    std::int64_t id = 0, probe = 0;
    double gain = 1, shift = 0;
};

struct Reader::Impl {
    explicit Impl(std::string p) : path(std::move(p)) {}

    bool open();
    // Runs `body` in one read transaction; sets `failure`.
    void read(std::function<void()> const& body);

    struct Boot {
        std::int64_t id = 0, offset_ms = 0, first_ms = 0, last_ms = 0;
        bool certain = false;
        std::string uid;
    };
    void load_boots();
    Moment moment(std::int64_t boot, std::int64_t ms) const;
    std::vector<Stretch> stretches(Window window) const;
    std::vector<Scale> scales(std::string const& probe);

    struct Tailed {
        std::int64_t boot = 0;
        Sample sample;
    };
    using Tail = std::map<std::int64_t, std::vector<Tailed>>;  // by calibration
    Tail read_tail_of(std::vector<std::int64_t> const& calibrations);

    using Take = std::function<void(std::int64_t boot, Sample const&)>;
    void each_reading(Scale const& scale, Stretch const& stretch, Take const& take);  // of the packed ones

    std::string path, failure;
    Database db;
    std::map<std::int64_t, Boot> boots;
};

}  // namespace ingle::logbook
