// The reader's inside, shared by its source files.
#pragma once

#include <algorithm>
#include <array>
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

    // Of the packed ones: take(Sample), in order of time but for late ones.
    template <class Take>
    void each_reading(Scale const& scale, Stretch const& stretch, Take take);
    // Of the blocks that touch the stretch, or of those alone that lie inside it whole.
    std::size_t readings_in(Scale const& scale, Stretch const& stretch, bool whole_blocks = false);
    // Roll-ups whose bucket k is in [first, end): take(k, n, min, max, sum).
    template <class Take>
    void each_roll(Scale const& scale, std::int64_t boot, int level, std::int64_t first, std::int64_t end,
                   Take take);

    std::string path, failure;
    Database db;
    std::map<std::int64_t, Boot> boots;
};

template <class Take>
void Reader::Impl::each_reading(Scale const& scale, Stretch const& stretch, Take take) {
    auto& row =
        db.prepared(
              "SELECT p.t0, p.every, p.slots, p.width, p.base, p.step, p.codes, p.marks, t.width, t.base,"
              " t.step, t.codes FROM packed p LEFT JOIN track t ON t.id=p.track WHERE p.calibration=?"
              " AND p.boot=? AND p.t0<? AND p.t0>=? AND p.t1>=? AND p.kind=0 ORDER BY p.t0, p.id")
            .with(scale.id, stretch.boot, stretch.to, stretch.from - longest_chunk_ms, stretch.from);
    std::array<std::int64_t, most_slots> offs{};
    while (row.step()) {
        auto const t0 = row.integer(0), every = row.integer(1);
        auto const slots = std::clamp(row.small(2), 0, most_slots);
        auto const marks = row.view(7);
        bool const jitter = !row.null(8);
        if (jitter)
            unpack(row.small(8), row.integer(9), row.integer(10), row.view(11), 0, slots,
                   [&](int i, std::int64_t off) { offs[static_cast<std::size_t>(i)] = off; });
        unpack(row.small(3), row.integer(4), row.integer(5), row.view(6), 0, slots,
               [&](int i, std::int64_t units) {
                   auto const u = static_cast<std::size_t>(i);
                   auto const at = t0 + i * every + (jitter ? offs[u] : 0);
                   if (at >= stretch.from && at < stretch.to)
                       take(Sample{at, units, u < marks.size() && marks[u] == '?'});
               });
    }
}

template <class Take>
void Reader::Impl::each_roll(Scale const& scale, std::int64_t boot, int level, std::int64_t first,
                             std::int64_t end, Take take) {
    if (level > 0) {
        auto& row = db.prepared(
                          "SELECT k, n, min, max, sum FROM roll WHERE level=? AND calibration=? AND boot=?"
                          " AND k>=? AND k<?")
                        .with(level, scale.id, boot, first, end);
        while (row.step())
            take(row.integer(0), row.integer(1), row.integer(2), row.integer(3), row.integer(4));
        return;
    }
    auto& row =
        db.prepared(
              "SELECT k0, slots, n_width, n_base, n_step, n_codes, low_width, low_base, low_step, low_codes,"
              " span_width, span_base, span_step, span_codes, rest_width, rest_base, rest_step, rest_codes"
              " FROM minutes WHERE calibration=? AND boot=? AND k0<? AND k0>? ORDER BY k0, id")
            .with(scale.id, boot, end, first - most_minutes);
    std::array<std::array<std::int64_t, most_minutes>, 4> value{};
    while (row.step()) {
        auto const k0 = row.integer(0);
        auto const slots = std::clamp(row.small(1), 0, most_minutes);
        for (int c = 0; c < 4; ++c)
            unpack(row.small(4 * c + 2), row.integer(4 * c + 3), row.integer(4 * c + 4), row.view(4 * c + 5),
                   0, slots, [&](int i, std::int64_t v) {
                       value[static_cast<std::size_t>(c)][static_cast<std::size_t>(i)] = v;
                   });
        for (int i = 0; i < slots; ++i) {
            auto const u = static_cast<std::size_t>(i);
            auto const n = value[0][u], low = value[1][u];
            if (n > 0 && k0 + i >= first && k0 + i < end)
                take(k0 + i, n, low, low + value[2][u], value[3][u] + n * low);
        }
    }
}

}  // namespace ingle::logbook
