#include "daemon/logbook/pack.hpp"

#include <cmath>
#include <random>

#include "daemon/logbook/tail.hpp"
#include "support.hpp"
#include "tests/support/catch.hpp"

using namespace ingle;
using namespace ingle::logbook;
using namespace ingle::logbook::testing;

namespace {

std::vector<Sample> back(std::vector<Chunk> const& chunks) {
    std::vector<Sample> out;
    for (auto const& c : chunks) {
        std::vector<std::int64_t> off(static_cast<std::size_t>(c.slots), 0);
        auto const text = [](Codes const& codes) {
            return std::string_view(reinterpret_cast<char const*>(codes.bytes.data()), codes.bytes.size());
        };
        if (c.stamps)
            unpack(c.stamps->width, c.stamps->base, c.stamps->step, text(*c.stamps), 0, c.slots,
                   [&](int i, std::int64_t v) { off[static_cast<std::size_t>(i)] = v; });
        unpack(c.values.width, c.values.base, c.values.step, text(c.values), 0, c.slots,
               [&](int i, std::int64_t v) {
                   auto const u = static_cast<std::size_t>(i);
                   out.push_back({c.t0 + i * c.every + off[u], v, !c.marks.empty() && c.marks[u] == '?'});
               });
    }
    return out;
}

}  // namespace

TEST_CASE("the unit holds every usual step exactly") {
    for (double const c :
         {88.5, 88.25, 4.0625, -18.0, -0.0625, 100.01, (190.2 - 32) / 1.8, (33.13 - 32) / 1.8})
        CHECK_THAT(to_celsius(*to_units(c)), WithinAbs(c, 1e-12));
    CHECK(to_celsius(*to_units(88.5)) == 88.5);
    CHECK(to_celsius(*to_units(0.1)) == 0.1);
    CHECK_THAT(to_celsius(*to_units(85.123456)), WithinAbs(85.123456, 0.0005));
    CHECK_FALSE(to_units(2e8));
    CHECK_FALSE(to_units(std::nan("")));
}

TEST_CASE("readings of any rhythm come back exactly") {
    std::mt19937 random(3);
    for (int run = 0; run < 300; ++run) {
        std::vector<Sample> in;
        std::int64_t at = static_cast<std::int64_t>(random() % 100'000);
        auto const every = std::int64_t{1} + static_cast<std::int64_t>(random() % 5000);
        auto const spread = 1 + static_cast<std::int64_t>(random() % (run % 3 ? 40 : 2'000'000));
        auto const step = run % 2 ? 4500 : 1;
        int const kind = run % 7;
        for (int i = 0; i < 1 + run * 7; ++i) {
            in.push_back({at, 1'500'000 + static_cast<std::int64_t>(random()) % spread * step,
                          kind == 5 && random() % 9 == 0});
            at += every;
            if (kind == 1) at += static_cast<std::int64_t>(random() % 5);
            if (kind == 2 && random() % 50 == 0) at += every * static_cast<std::int64_t>(random() % 200);
            if (kind == 3 && random() % 10 == 0) at -= every;  // the same millisecond
            if (kind == 4) at += static_cast<std::int64_t>(random() % 100'000);
            if (kind == 6 && random() % 100 == 0) at += 40 * 3'600'000;
        }
        auto const chunks = cut(in);
        auto const out = back(chunks);
        REQUIRE(out.size() == in.size());
        bool same = true;
        for (std::size_t i = 0; i < in.size(); ++i)
            same = same && out[i].at == in[i].at && out[i].units == in[i].units &&
                   out[i].doubtful == in[i].doubtful;
        CHECK(same);
        for (auto const& c : chunks) CHECK((c.slots <= most_slots && c.t1 - c.t0 <= longest_chunk_ms));
    }
}

TEST_CASE("what does not change takes no room, and small steps take little") {
    std::vector<std::int64_t> const flat(900, 72'000);
    CHECK(pack(flat).bytes.empty());
    std::vector<std::int64_t> few;
    for (int i = 0; i < 900; ++i) few.push_back(72'000 + 4500 * (i % 15));
    CHECK(pack(few).bytes.size() == 450);
    few[7] = missing;
    CHECK(pack(few).bytes.size() == 450);
}

TEST_CASE("a row of the tail is read back, and half a row is refused") {
    std::vector<TailReading> in;
    for (int i = 0; i < 40; ++i) {
        TailReading r{1000 + i / 8 * 1000, 1 + i % 8, 1'500'000 + 4500 * (i % 5), i % 11 == 0, {}, {}};
        if (i % 3 == 0) r.cold_junction = 23 * 18'000;
        if (i % 3 == 0) r.word = 0x04A41700U + static_cast<unsigned>(i);
        in.push_back(r);
    }
    auto const row = write_tail(in);
    std::size_t n = 0;
    bool same = true;
    CHECK(read_tail(row.t0, row.step, row.v,
                    [&](std::int64_t at, std::int64_t c, std::int64_t units, bool doubtful) {
                        same = same && at == in[n].at && c == in[n].calibration && units == in[n].units &&
                               doubtful == in[n].doubtful;
                        ++n;
                    }));
    CHECK((same && n == in.size()));
    std::vector<SideReading> side;
    CHECK(read_side(row.t0, row.side, side));
    REQUIRE(side.size() == 14);
    CHECK(side[1].word == in[3].word);
    for (std::size_t cut_at = 0; cut_at < row.v.size(); ++cut_at)
        CHECK_FALSE(read_tail(row.t0, row.step, std::string_view(row.v).substr(0, cut_at), [](auto...) {}));
}

TEST_CASE("the view `reading` shows in plain SQL what was written; the minutes are the readings' own") {
    Scratch dir;
    auto options = options_for(dir / "l.db");
    options.seal_every = GENERATE(Span(0), Span(1'800'000), Span(90'000'000));
    options.probes.push_back({"fridge", "w1", "id=28-000000000001", {{{0.4}, {0.0}}, {{99.0}, {100.0}}}});
    std::mt19937 random(5);
    struct Written {
        std::int64_t at;
        double celsius;
        bool doubtful;
    };
    std::vector<std::vector<Written>> written(3);
    {
        Writer writer(options, {});
        writer.resume();
        for (std::int64_t i = 0; i < 6000; ++i) {
            for (int p = 0; p < 3; ++p) {
                if (p == 2 && i % 5 != 0) continue;  // another rate
                auto at = 10'000 + i * 1000 + (p == 1 ? static_cast<std::int64_t>(random() % 7) : 0);
                auto r = good(p, at,
                              p == 0   ? 80 + 0.25 * static_cast<double>(random() % 400)
                              : p == 1 ? (100.0 + 0.1 * static_cast<double>(random() % 3) - 32) / 1.8
                                       : 3.5);
                if (random() % 800 == 0) continue;
                if (p == 1 && i % 700 == 0) r.quality = Quality::doubtful;
                if (p == 2) r.celsius = (*r.raw - 0.4) * 100.0 / 98.6;
                r.cold_junction = 24.0625, r.word = 0x04A41700U + static_cast<std::uint32_t>(i);
                writer.record(r);
                written[static_cast<std::size_t>(p)].push_back(
                    {at, *r.celsius, r.quality == Quality::doubtful});
            }
            if (i % 500 == 0) writer.flush(Span(5000));
        }
        REQUIRE(writer.flush(Span(5000)));
    }
    Database db;
    REQUIRE(db.open(options.path, SQLITE_OPEN_READWRITE));
    for (std::size_t p = 0; p < 3; ++p) {
        Statement rows(db,
                       "SELECT boot_ms, celsius, quality, utc FROM reading WHERE probe=? ORDER BY boot_ms");
        rows.with(options.probes[p].name);
        std::size_t n = 0;
        bool same = true;
        for (; rows.step(); ++n) {
            if (n >= written[p].size()) break;
            auto const& w = written[p][n];
            same = same && rows.integer(0) == w.at && std::abs(rows.real(1) - w.celsius) < 1e-9 &&
                   (rows.text(2) == "doubtful") == w.doubtful;
            if (n == 0) CHECK_THAT(rows.text(3), INGLE_CONTAINS("2026-09-21T"));
        }
        CHECK(db.ok());
        CHECK(n == written[p].size());
        CHECK(same);
    }
    // Roll-ups equal the readings, minute by minute, by SQLite's own arithmetic; and so do the coarser
    // levels.
    CHECK(
        db.number("SELECT count(*) FROM (SELECT calibration, boot, k, sum(n) n, min(min) lo, max(max) hi, "
                  "sum(sum) s"
                  " FROM raw_minute GROUP BY 1,2,3) m LEFT JOIN (SELECT calibration, boot, boot_ms/60000 k, "
                  "count(*) n,"
                  " min(raw) lo, max(raw) hi, sum(raw) s FROM raw_reading GROUP BY 1,2,3) r "
                  "USING(calibration, boot, k)"
                  " WHERE NOT EXISTS (SELECT 1 FROM tail) AND (r.n IS NOT m.n OR abs(r.lo-m.lo/18000.0)>1e-9"
                  " OR abs(r.hi-m.hi/18000.0)>1e-9 OR abs(r.s-m.s/18000.0)>1e-6)") == 0);
    for (auto const* level : {"1", "2", "3"})
        CHECK(
            db.number(
                ("SELECT (SELECT sum(n)||'.'||sum(sum)||'.'||min(min)||'.'||max(max) FROM roll WHERE level=" +
                 std::string(level) +
                 ") IS (SELECT sum(n)||'.'||sum(sum)||'.'||min(min)||'.'||max(max) FROM raw_minute)")
                    .c_str()) == 1);
    CHECK(db.ok());
    // Any grain counts every reading once.
    Reader reader(options.path);
    for (auto const grain :
         {Span(7000), Span(60'000), Span(61'000), Span(900'000), Span(20'000'000), Span(400'000'000)}) {
        auto const from = WallTime(Span(midnight + 123'456)), to = WallTime(Span(midnight + 5'432'100));
        auto const h = reader.history({"stock", {from, to}, grain, false});
        std::uint64_t n = 0;
        double sum = 0, low = 1e9, high = -1e9, want = 0, want_low = 1e9, want_high = -1e9;
        std::uint64_t expected = 0;
        for (auto const& point : h.points)
            n += point.n, sum += point.mean * point.n, low = std::min(low, point.min),
                                                       high = std::max(high, point.max);
        for (auto const& w : written[0])
            if (w.at >= 123'456 && w.at < 5'432'100)
                ++expected, want += w.celsius, want_low = std::min(want_low, w.celsius),
                                               want_high = std::max(want_high, w.celsius);
        CHECK(n == expected);
        CHECK_THAT(sum, WithinRel(want, 1e-9));
        CHECK(low == want_low);
        CHECK(high == want_high);
    }
}
