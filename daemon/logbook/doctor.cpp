#include "daemon/logbook/doctor.hpp"

#include <sys/stat.h>
#include <sys/statvfs.h>
#include <unistd.h>

#include <algorithm>
#include <cmath>
#include <filesystem>

#include "daemon/logbook/db.hpp"
#include "daemon/logbook/reader.hpp"
#include "daemon/logbook/schema.hpp"

namespace ingle::logbook {
namespace {

using Level = Finding::Level;
constexpr double day_ms = 86'400'000;
constexpr std::int64_t large_wal = 50LL << 20;
constexpr double usual_growth = 3e6;  // bytes a day: 8 probes, a reading each second
constexpr double short_of_days = 60;  // less room than that deserves a word

std::string megabytes(double bytes) {
    bool const large = bytes >= 1e9;
    auto const tenths = std::llround(bytes / (large ? 1e8 : 1e5));
    return std::to_string(tenths / 10) + "." + std::to_string(tenths % 10) + (large ? " GB" : " MB");
}

// What nobody plans for is not said to the day.
std::string time_left(double days) {
    if (days >= 3650) return "more than 10 years";
    if (days >= 730) return std::to_string(static_cast<std::int64_t>(days / 365)) + " years";
    return std::to_string(static_cast<std::int64_t>(days)) + " days";
}

std::int64_t size_of(std::string const& path) {
    struct stat s {};
    return stat(path.c_str(), &s) == 0 ? static_cast<std::int64_t>(s.st_size) : 0;
}

void integrity(std::string const& path, std::vector<Finding>& out) {
    Database db;
    db.open(path, SQLITE_OPEN_READONLY);
    sqlite3_busy_timeout(db.handle(), 5000);
    auto const answer = db.word("PRAGMA integrity_check(5)");
    auto const failure = db.take_failure();
    if (!failure && answer == "ok")
        return out.push_back({Level::good, "integrity", "every page is sound", ""});
    out.push_back({Level::bad, "integrity", "the file is damaged: " + (failure ? failure->text : answer),
                   "restart ingled: it moves the damaged file aside, keeps it, and begins a new one. A card "
                   "that damages "
                   "files is worn out or poorly powered"});
}

// The roll-ups are made from the readings: if they tell different stories, a write went wrong.
void consistency(std::string const& path, std::vector<Finding>& out) {
    Database db;
    db.open(path, SQLITE_OPEN_READONLY);
    sqlite3_busy_timeout(db.handle(), 5000);
    auto const wrong = db.number(
        "SELECT count(*) FROM (SELECT calibration, sum(n) n, sum(sum) s FROM roll WHERE level=3 GROUP BY 1) a"
        " JOIN (SELECT calibration, sum(n) n, sum(sum) s FROM roll WHERE level=1 GROUP BY 1) b "
        "USING(calibration)"
        " WHERE a.n IS NOT b.n OR a.s IS NOT b.s");
    if (auto const failure = db.take_failure()) return;  // told by integrity()
    if (wrong == 0)
        return out.push_back({Level::good, "roll-ups", "the summaries agree with each other", ""});
    out.push_back({Level::bad, "roll-ups",
                   "the summaries of " + std::to_string(wrong) + " series contradict each other",
                   "keep a backup of the file and report it"});
}

void space(std::string const& path, double growth, bool rate_known, std::vector<Finding>& out) {
    struct statvfs disk {};
    if (statvfs(path.c_str(), &disk) != 0) return;
    double const free = static_cast<double>(disk.f_bavail) * static_cast<double>(disk.f_frsize);
    double const days = free / std::max(growth, 1.0);
    auto const text = megabytes(free) + " free, enough for " + time_left(days) +
                      (rate_known ? " as it grows now" : " as such a file usually grows");
    bool const full = free < 100e6, little = days < short_of_days;
    out.push_back({full     ? Level::bad
                   : little ? Level::doubtful
                            : Level::good,
                   "space", text,
                   full || little ? "make room on that disk, or keep raw readings for fewer days" : ""});
}

void permissions(std::string const& path, std::vector<Finding>& out) {
    struct stat file {};
    struct stat directory {};
    auto const parent = std::filesystem::path(path).parent_path().string();
    if (stat(path.c_str(), &file) != 0 || stat(parent.empty() ? "." : parent.c_str(), &directory) != 0)
        return;
    for (auto const* side : {"-wal", "-shm"}) {
        struct stat s {};
        if (stat((path + side).c_str(), &s) == 0 && s.st_uid != file.st_uid)
            return out.push_back({Level::bad, "permissions",
                                  path + side + " belongs to another user than the logbook",
                                  "stop ingled, give the file to the logbook's owner (chown), start ingled"});
    }
    out.push_back({Level::good, "permissions", "the file and its side files have one owner", ""});
}

}  // namespace

std::vector<Finding> examine(std::string const& path) {
    std::vector<Finding> out;
    Reader reader(path);
    if (!reader.failure().empty()) {
        bool const exists = access(path.c_str(), F_OK) == 0;
        out.push_back({Level::bad, "file", reader.failure(),
                       exists ? "" : "start ingled once with this state directory"});
        if (exists) integrity(path, out);
        for (auto& f : out)
            if (f.remedy.empty()) f.remedy = "see the text";
        return out;
    }
    integrity(path, out);
    consistency(path, out);

    auto const size = static_cast<double>(size_of(path));
    auto const extent = reader.extent();
    double const days = extent ? static_cast<double>((extent->to - extent->from).count()) / day_ms : 0;
    // A young file is mostly its empty tables: no rate can be told from it.
    bool const rate_known = days > 2;
    double const growth = rate_known ? size / days : usual_growth;
    out.push_back(
        {growth > 20 * usual_growth ? Level::doubtful : Level::good, "growth",
         megabytes(size) + (rate_known ? ", " + megabytes(growth) + " a day"
                                       : "; how fast it grows is told after two days"),
         growth > 20 * usual_growth ? "some probe reads much more often than needed: see `every`" : ""});
    space(path, growth, rate_known, out);

    auto const wal = size_of(path + "-wal");
    out.push_back({wal > large_wal ? Level::doubtful : Level::good, "write-ahead file",
                   megabytes(static_cast<double>(wal)),
                   wal > large_wal ? "some program keeps the logbook open for reading: close it" : ""});
    permissions(path, out);
    for (auto const& boot : reader.boots())
        if (!boot.certain)
            out.push_back({Level::doubtful, "clock",
                           "in boot " + std::to_string(boot.id) +
                               " the board never learnt the time: its rows are placed "
                               "after those of the boot before",
                           "connect it to a network once, or fit a clock battery"});
    for (auto const& copy : reader.damaged())
        out.push_back({Level::doubtful, "damaged copy",
                       copy.file + (copy.cooks.empty() ? "" : " holds the cooks " + copy.cooks) + " (" +
                           copy.what + ")",
                       "`sqlite3 FILE .recover` may read more of it; delete it when you no longer need it"});
    return out;
}

}  // namespace ingle::logbook
