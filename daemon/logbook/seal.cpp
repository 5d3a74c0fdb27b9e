#include "daemon/logbook/seal.hpp"

#include <algorithm>
#include <map>
#include <string>
#include <tuple>
#include <vector>

#include "daemon/logbook/pack.hpp"
#include "daemon/logbook/tail.hpp"

namespace ingle::logbook {
namespace {

enum Kind { readings, cold_junctions, word_high, word_low };

struct Roll {
    std::int64_t n = 0, min = INT64_MAX, max = INT64_MIN, sum = 0;
};

std::int64_t floor_to(std::int64_t at, std::int64_t width) {
    return (at >= 0 ? at : at - width + 1) / width;
}

class Sealer {
public:
    explicit Sealer(Database& db) : db_(db) {}

    void seal(std::int64_t boot, std::int64_t calibration, Kind kind, std::vector<Sample>& samples) {
        // In order of time; two readings of one millisecond stay in order of arrival.
        auto const earlier = [](Sample const& a, Sample const& b) { return a.at < b.at; };
        if (!std::is_sorted(samples.begin(), samples.end(), earlier))
            std::stable_sort(samples.begin(), samples.end(), earlier);
        for (auto const& chunk : cut(samples)) insert(boot, calibration, kind, chunk);
        if (kind != readings) return;
        // The minutes from the readings, the coarser levels from the minutes.
        std::map<std::int64_t, Roll> minutes;
        for (auto const& s : samples) {
            auto& roll = minutes[floor_to(s.at, roll_widths[0])];
            ++roll.n;
            roll.min = std::min(roll.min, s.units), roll.max = std::max(roll.max, s.units);
            roll.sum += s.units;
        }
        insert_minutes(boot, calibration, minutes);
        for (std::size_t level = 1; level < roll_widths.size(); ++level) {
            std::map<std::int64_t, Roll> coarse;
            for (auto const& [k, minute] : minutes) {
                auto& roll = coarse[floor_to(k * roll_widths[0], roll_widths[level])];
                roll.n += minute.n, roll.sum += minute.sum;
                roll.min = std::min(roll.min, minute.min), roll.max = std::max(roll.max, minute.max);
            }
            insert(boot, calibration, static_cast<int>(level), coarse);
        }
    }

private:
    static std::span<unsigned char const> bytes(Codes const& codes) { return codes.bytes; }

    void insert(std::int64_t boot, std::int64_t calibration, Kind kind, Chunk const& chunk) {
        std::optional<std::int64_t> track;
        if (chunk.stamps) track = track_of(*chunk.stamps);
        auto& row = db_.prepared(
            "INSERT INTO packed(kind, calibration, boot, t0, t1, every, slots, n, max, sum, track, marks, "
            "width, base,"
            " step, codes) VALUES(?,?,?,?,?,?,?,?,?,?,?,?,?,?,?,?)");
        std::optional<std::string_view> marks;
        if (!chunk.marks.empty()) marks = chunk.marks;
        row.with(static_cast<int>(kind), calibration, boot, chunk.t0, chunk.t1, chunk.every, chunk.slots,
                 chunk.count, chunk.max, chunk.sum, track, marks, chunk.values.width, chunk.values.base,
                 chunk.values.step, bytes(chunk.values))
            .run();
    }

    void insert_minutes(std::int64_t boot, std::int64_t calibration,
                        std::map<std::int64_t, Roll> const& minutes) {
        for (auto at = minutes.begin(); at != minutes.end();) {
            auto const k0 = at->first;
            std::vector<std::int64_t> n, low, span, rest;
            for (; at != minutes.end() && at->first - k0 < most_minutes; ++at) {
                auto const slots = static_cast<std::size_t>(at->first - k0);
                n.resize(slots, 0), low.resize(slots, missing), span.resize(slots, missing),
                    rest.resize(slots, missing);
                auto const& roll = at->second;
                n.push_back(roll.n), low.push_back(roll.min), span.push_back(roll.max - roll.min);
                rest.push_back(roll.sum - roll.n * roll.min);
            }
            std::array<Codes, 4> const c{pack(n), pack(low), pack(span), pack(rest)};
            db_.prepared("INSERT INTO minutes VALUES(NULL,?,?,?,?,?,?,?,?,?,?,?,?,?,?,?,?,?,?,?,?)")
                .with(calibration, boot, k0, static_cast<std::int64_t>(n.size()), c[0].width, c[0].base,
                      c[0].step, bytes(c[0]), c[1].width, c[1].base, c[1].step, bytes(c[1]), c[2].width,
                      c[2].base, c[2].step, bytes(c[2]), c[3].width, c[3].base, c[3].step, bytes(c[3]))
                .run();
        }
    }

    // Probes that are read together share their stamps, and their jitter is stored once.
    std::int64_t track_of(Codes const& stamps) {
        auto const key = std::tuple(stamps.width, stamps.base, stamps.step, stamps.bytes);
        auto const found = tracks_.find(key);
        if (found != tracks_.end()) return found->second;
        db_.prepared("INSERT INTO track(width, base, step, codes) VALUES(?,?,?,?)")
            .with(stamps.width, stamps.base, stamps.step, bytes(stamps))
            .run();
        return tracks_[key] = db_.ok() ? sqlite3_last_insert_rowid(db_.handle()) : 0;
    }

    void insert(std::int64_t boot, std::int64_t calibration, int level,
                std::map<std::int64_t, Roll> const& rolls) {
        auto& row = db_.prepared(
            "INSERT INTO roll VALUES(?,?,?,?,?,?,?,?) ON CONFLICT DO UPDATE SET n=n+excluded.n, "
            "sum=sum+excluded.sum,"
            " min=min(min,excluded.min), max=max(max,excluded.max)");
        for (auto const& [k, roll] : rolls)
            row.with(level, calibration, boot, k, roll.n, roll.min, roll.max, roll.sum).run();
    }

    Database& db_;
    std::map<std::tuple<int, std::int64_t, std::int64_t, std::vector<unsigned char>>, std::int64_t> tracks_;
};

}  // namespace

void seal_tail(Database& db) {
    Sealer sealer(db);
    std::vector<std::int64_t> boots;
    {
        Statement each(db, "SELECT DISTINCT boot FROM tail ORDER BY boot");
        while (each.step()) boots.push_back(each.integer(0));
    }
    for (auto const boot : boots) {
        std::map<std::pair<std::int64_t, Kind>, std::vector<Sample>> found;
        std::vector<SideReading> side;
        std::int64_t last = 0;
        {
            Statement rows(db, "SELECT t0, step, v, side FROM tail WHERE boot=? ORDER BY id");
            rows.with(boot);
            std::vector<std::vector<Sample>*> by_calibration;
            while (rows.step()) {
                read_tail(rows.integer(0), rows.integer(1), rows.view(2),
                          [&](std::int64_t at, std::int64_t calibration, std::int64_t units, bool doubtful) {
                              auto const place = static_cast<std::size_t>(calibration);
                              if (by_calibration.size() <= place) by_calibration.resize(place + 1);
                              if (!by_calibration[place])
                                  by_calibration[place] = &found[{calibration, readings}];
                              by_calibration[place]->push_back({at, units, doubtful});
                              last = std::max(last, at);
                          });
                if (!rows.null(3)) read_side(rows.integer(0), rows.view(3), side);
            }
        }
        for (auto const& s : side) {
            if (s.cold_junction)
                found[{s.calibration, cold_junctions}].push_back({s.at, *s.cold_junction, false});
            if (!s.word) continue;
            found[{s.calibration, word_high}].push_back({s.at, *s.word >> 16, false});
            found[{s.calibration, word_low}].push_back({s.at, *s.word & 0xffff, false});
        }
        for (auto& [key, samples] : found) sealer.seal(boot, key.first, key.second, samples);
        db.prepared("UPDATE boot SET last_ms=max(last_ms,?) WHERE id=?").with(last, boot).run();
    }
    db.run("DELETE FROM tail");
}

void thin_readings(Database& db, int keep_days) {
    if (keep_days <= 0) return;
    // The newest row is "today": no clock is asked. An hour on both sides of a kept cook stays with it.
    db.prepared(
          "DELETE FROM packed WHERE id IN (SELECT p.id FROM packed p JOIN boot b ON b.id=p.boot"
          " WHERE b.offset_ms+p.t1 < (SELECT max(offset_ms+last_ms) FROM boot) - ?*86400000"
          " AND NOT EXISTS (SELECT 1 FROM cook c JOIN boot cb ON cb.id=c.began_boot"
          " LEFT JOIN boot ce ON ce.id=c.ended_boot WHERE c.kept"
          " AND cb.offset_ms+c.began_ms-3600000 <= b.offset_ms+p.t1"
          " AND (c.ended_boot IS NULL OR ce.offset_ms+c.ended_ms+3600000 >= b.offset_ms+p.t0))"
          " ORDER BY p.id LIMIT 5000)")
        .with(keep_days)
        .run();
    db.run("DELETE FROM track WHERE id < (SELECT min(track) FROM packed)");
}

void bound_tables(Database& db) {
    for (auto const& [table, most, but] : {std::tuple{"fault", 500'000, ""},
                                           {"rejected", 500'000, ""},
                                           {"event", 1'000'000, " AND name!='note'"},
                                           {"alarm_change", 1'000'000, ""},
                                           {"anchor", 100'000, ""},
                                           {"outbox", 100'000, " AND state!='pending'"},
                                           {"attempt", 300'000, ""}})
        db.run(("DELETE FROM " + std::string(table) + " WHERE rowid <= (SELECT max(rowid) FROM " + table +
                ") - " + std::to_string(most) + but)
                   .c_str());
}

}  // namespace ingle::logbook
