// A scratch directory and a writer on it, for the logbook's tests.
#pragma once

#include <unistd.h>
#include <fstream>
#include <sstream>

#include <cstdlib>
#include <filesystem>
#include <string>

#include "daemon/logbook/db.hpp"
#include "daemon/logbook/logbook.hpp"
#include "daemon/logbook/reader.hpp"

namespace ingle::logbook::testing {

class Scratch {
public:
    Scratch() {
        // In memory where there is such a place: these tests are not about the disk's speed.
        auto const base = access("/dev/shm", W_OK) == 0 ? std::string("/dev/shm")
                                                        : std::filesystem::temp_directory_path().string();
        std::string pattern = base + "/logbook-test-XXXXXX";
        path_ = mkdtemp(pattern.data());
    }
    ~Scratch() {
        std::error_code ignored;
        std::filesystem::remove_all(path_, ignored);
    }
    Scratch(Scratch const&) = delete;
    Scratch& operator=(Scratch const&) = delete;
    std::string operator/(char const* name) const { return path_ + "/" + name; }
    std::string const& path() const { return path_; }

private:
    std::string path_;
};

constexpr std::int64_t midnight = 1'790'000'000'000;  // wall ms of boot time 0 in most tests

inline WriterOptions options_for(std::string path, std::string boot = "boot-a") {
    WriterOptions o;
    o.path = std::move(path);
    o.probes = {{"stock", "simulated", "of=stockpot", {}}, {"goose-core", "simulated", "of=goose-roll", {}}};
    o.vessels = {"stockpot"};
    o.dishes = {"goose-roll"};
    o.settings = "[kitchen]\nname = \"village hall\"\n";
    o.zone = "Europe/Lisbon";
    o.boot_id = std::move(boot);
    o.started = Instant(Span(1000));
    o.clock = {midnight, true};
    return o;
}

inline Recorded good(int probe, std::int64_t at, double celsius) {
    Recorded r;
    r.probe = probe, r.at = Instant(Span(at)), r.raw = celsius, r.celsius = celsius;
    return r;
}
inline Recorded faulty(int probe, std::int64_t at, FaultKind kind, std::string reason) {
    Recorded r;
    r.probe = probe, r.at = Instant(Span(at)), r.quality = Quality::faulty,
    r.fault = Fault{kind, std::move(reason)};
    return r;
}

inline AlarmType const leaving{"leaving-band", Priority::medium, Span(0), Span(0), {}, false};
inline AlarmChanged raised(std::int64_t id, std::int64_t at) {
    AlarmChanged c;
    c.at = Instant(Span(at)), c.transition = Transition::raised;
    c.alarm.id = id, c.alarm.type = &leaving, c.alarm.subject = {SubjectKind::vessel, 0};
    c.alarm.state = AlarmState::unacknowledged, c.alarm.active = true, c.alarm.text = "rising 1.4 K/min";
    return c;
}

inline Window everything() {
    return {WallTime(Span(0)), WallTime(Span(4'000'000'000'000))};
}

inline std::int64_t number(std::string const& path, char const* sql) {
    Database db;
    if (!db.open(path, SQLITE_OPEN_READWRITE)) return -1;
    auto const n = db.number(sql);
    return db.ok() ? n : -1;
}
inline std::string file_text(std::string const& path) {
    std::ifstream in(path, std::ios::binary);
    return {std::istreambuf_iterator<char>(in), {}};
}
inline std::string word(std::string const& path, char const* sql) {
    Database db;
    if (!db.open(path, SQLITE_OPEN_READWRITE)) return "cannot open";
    auto w = db.word(sql);
    auto const failure = db.take_failure();
    return failure ? failure->text : w;
}

}  // namespace ingle::logbook::testing
