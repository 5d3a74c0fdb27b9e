#include "daemon/logbook/reader.hpp"

#include <sys/stat.h>
#include <unistd.h>

#include <algorithm>
#include <cstdio>

#include "daemon/logbook/reader_impl.hpp"
#include "daemon/logbook/schema.hpp"
#include "daemon/logbook/tail.hpp"

namespace ingle::logbook {
namespace {

bool has_rows_waiting(std::string const& path) {
    struct stat s {};
    return stat((path + "-wal").c_str(), &s) == 0 && s.st_size > 0;
}

std::string as_uri(std::string const& path) {
    constexpr char digits[] = "0123456789ABCDEF";
    std::string uri = "file:";
    for (char const c : path) {
        auto const u = static_cast<unsigned char>(c);
        if (c == '?' || c == '#' || c == '%')
            uri += '%', uri += digits[u >> 4], uri += digits[u & 15];
        else
            uri += c;
    }
    return uri + "?immutable=1";
}

}  // namespace

bool Reader::Impl::open() {
    if (access(path.c_str(), F_OK) != 0) {
        failure = "there is no logbook at " + path + ": has ingled run with this state directory?";
        return false;
    }
    auto const works = [&] {
        sqlite3_busy_timeout(db.handle(), 5000);
        failure = readable(db);
        return db.ok();
    };
    if (db.open(path, SQLITE_OPEN_READONLY) && works()) {
        if (!failure.empty()) db.close();
        return failure.empty();
    }
    auto const why = db.take_failure();
    // Write-ahead mode wants a side file. Where this user may not make one and no rows wait in it (the daemon
    // ended cleanly), the file alone is complete.
    bool const side_files = why && (why->kind() == SQLITE_CANTOPEN || why->kind() == SQLITE_READONLY);
    if (side_files && !has_rows_waiting(path) &&
        db.open(as_uri(path), SQLITE_OPEN_READONLY | SQLITE_OPEN_URI) && works()) {
        if (!failure.empty()) db.close();
        return failure.empty();
    }
    db.take_failure();
    db.close();
    failure = why ? why->text : "the logbook " + path + " cannot be opened";
    if (side_files)
        failure +=
            ". Reading it needs its side files beside it: run this as the daemon's user, or ask the running "
            "daemon";
    return false;
}

void Reader::Impl::read(std::function<void()> const& body) {
    failure.clear();
    if (!db.is_open() && !open()) return;
    {
        Transaction transaction(db, false);
        load_boots();
        body();
    }
    if (auto const failed = db.take_failure()) {
        failure = failed->text;
        if (failed->kind() == SQLITE_CORRUPT) failure += ". It is damaged: see ingle doctor";
        db.close();
    }
}

void Reader::Impl::load_boots() {
    boots.clear();
    auto& row = db.prepared("SELECT id, uid, offset_ms, certain, first_ms, last_ms FROM boot").with();
    while (row.step())
        boots[row.integer(0)] = {row.integer(0), row.integer(2),      row.integer(4),
                                 row.integer(5), row.integer(3) != 0, row.text(1)};
    auto const extend = [&](std::int64_t boot, std::int64_t at) {
        if (auto const found = boots.find(boot); found != boots.end())
            found->second.last_ms = std::max(found->second.last_ms, at);
    };
    auto& tail = db.prepared("SELECT boot, t0, step, v FROM tail ORDER BY id DESC LIMIT 3").with();
    while (tail.step()) {
        auto const boot = tail.integer(0);
        read_tail(tail.integer(1), tail.integer(2), tail.view(3),
                  [&](std::int64_t at, std::int64_t, std::int64_t, bool) { extend(boot, at); });
    }
    auto& newest =
        db.prepared(
              "SELECT boot, boot_ms FROM (SELECT boot, boot_ms FROM event ORDER BY id DESC LIMIT 100)"
              " UNION ALL SELECT boot, boot_ms FROM (SELECT boot, boot_ms FROM alarm_change ORDER BY id DESC "
              "LIMIT 100)"
              " UNION ALL SELECT boot, t1 FROM (SELECT boot, t1 FROM fault ORDER BY id DESC LIMIT 20)"
              " UNION ALL SELECT boot, coalesce(ended_ms, started_ms) FROM run")
            .with();
    while (newest.step()) extend(newest.integer(0), newest.integer(1));
}

Moment Reader::Impl::moment(std::int64_t boot, std::int64_t ms) const {
    Moment m;
    m.boot = boot;
    m.at = Instant(Span(ms));
    auto const found = boots.find(boot);
    m.certain = found != boots.end() && found->second.certain;
    m.wall = WallTime(Span(ms + (found == boots.end() ? 0 : found->second.offset_ms)));
    return m;
}

std::vector<Stretch> Reader::Impl::stretches(Window window) const {
    std::vector<Stretch> out;
    for (auto const& [id, boot] : boots) {
        Stretch s{id, window.from.time_since_epoch().count() - boot.offset_ms,
                  window.to.time_since_epoch().count() - boot.offset_ms};
        // Rows may be older than the boot's first run (readings waited in a source), never younger than its
        // last row.
        s.to = std::min(s.to, boot.last_ms + 1);
        if (s.from < s.to) out.push_back(s);
    }
    return out;
}

std::vector<Scale> Reader::Impl::scales(std::string const& probe) {
    std::vector<Scale> out;
    auto& row = db.prepared(
                      "SELECT c.id, c.probe, c.gain, c.shift FROM calibration c JOIN probe p ON p.id=c.probe"
                      " WHERE p.name=? ORDER BY c.id")
                    .with(probe);
    while (row.step()) out.push_back({row.integer(0), row.integer(1), row.real(2), row.real(3)});
    return out;
}

Reader::Reader(std::string path) : impl_(std::make_unique<Impl>(std::move(path))) {
    impl_->open();
}
Reader::~Reader() = default;
Reader::Reader(Reader&&) noexcept = default;
Reader& Reader::operator=(Reader&&) noexcept = default;

std::string const& Reader::failure() const {
    return impl_->failure;
}

std::vector<ProbeRow> Reader::probes() {
    std::vector<ProbeRow> out;
    impl_->read([&] {
        auto& row =
            impl_->db
                .prepared(
                    "SELECT p.id, p.name, p.driver, p.device, c.boot, c.boot_ms, c.gain, c.shift,"
                    " c.points FROM probe p LEFT JOIN calibration c ON c.probe=p.id ORDER BY p.id, c.id")
                .with();
        while (row.step()) {
            if (out.empty() || out.back().id != row.integer(0))
                out.push_back({row.integer(0), row.text(1), row.text(2), row.text(3), {}});
            if (!row.null(4))
                out.back().calibrations.push_back(
                    {impl_->moment(row.integer(4), row.integer(5)), row.real(6), row.real(7), row.text(8)});
        }
    });
    return out;
}

std::vector<BootRow> Reader::boots() {
    std::vector<BootRow> out;
    impl_->read([&] {
        for (auto const& [id, b] : impl_->boots)
            out.push_back({id, b.uid, impl_->moment(id, b.first_ms), impl_->moment(id, b.last_ms),
                           b.offset_ms, b.certain});
    });
    return out;
}

std::optional<Window> Reader::extent() {
    std::optional<Window> out;
    impl_->read([&] {
        for (auto const& [id, b] : impl_->boots) {
            Window const w{WallTime(Span(b.offset_ms + b.first_ms)),
                           WallTime(Span(b.offset_ms + b.last_ms + 1))};
            out = out ? Window{std::min(out->from, w.from), std::max(out->to, w.to)} : w;
        }
    });
    return out;
}

bool Reader::backup_to(std::string const& file) {
    impl_->failure.clear();
    if (!impl_->db.is_open() && !impl_->open()) return false;
    if (access(file.c_str(), F_OK) == 0) {
        impl_->failure = file + " exists: a backup never overwrites a file";
        return false;
    }
    auto const part = file + ".part";
    std::remove(part.c_str());
    Statement copy(impl_->db, "VACUUM INTO ?");
    copy.with(part).run();
    if (auto const failed = impl_->db.take_failure()) {
        impl_->failure = "backup to " + file + ": " + failed->text;
        std::remove(part.c_str());
        return false;
    }
    if (std::rename(part.c_str(), file.c_str()) != 0) {
        impl_->failure = "backup: " + part + " cannot be renamed to " + file;
        return false;
    }
    return true;
}

}  // namespace ingle::logbook
