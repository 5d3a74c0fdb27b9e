// Reader: readings of a span at any grain.
#include <algorithm>
#include <cmath>
#include <limits>

#include "daemon/logbook/reader_impl.hpp"
#include "daemon/logbook/seal.hpp"
#include "daemon/logbook/tail.hpp"

namespace ingle::logbook {
namespace {

constexpr std::int64_t most_buckets = 1'000'000;  // a finer grain is widened to this many

struct Sum {
    std::uint32_t n = 0;
    double min = 0, max = 0, sum = 0;
    std::int64_t boot = 0, at = 0;
    bool doubtful = false;

    void add(std::int64_t of_boot, std::int64_t from, std::uint32_t count, double low, double high,
             double total) {
        if (n == 0) boot = of_boot, at = from, min = low, max = high;
        min = std::min(min, low), max = std::max(max, high);
        n += count, sum += total;
    }
};

// Coarsest roll-up that is not wider than the grain; -1 = the readings themselves.
int level_for(std::int64_t grain) {
    int level = -1;
    for (std::size_t i = 0; i < roll_widths.size(); ++i)
        if (roll_widths[i] <= grain) level = static_cast<int>(i);
    return level;
}

std::int64_t floor_div(std::int64_t a, std::int64_t b) {
    return (a >= 0 ? a : a - b + 1) / b;
}

}  // namespace

Reader::Impl::Tail Reader::Impl::read_tail_of(std::vector<std::int64_t> const& calibrations) {
    Tail out;
    std::vector<std::vector<Tailed>*> wanted;
    for (auto const c : calibrations) {
        if (wanted.size() <= static_cast<std::size_t>(c)) wanted.resize(static_cast<std::size_t>(c) + 1);
        wanted[static_cast<std::size_t>(c)] = &out[c];
    }
    auto& rows = db.prepared("SELECT boot, t0, step, v FROM tail ORDER BY id").with();
    while (rows.step()) {
        auto const boot = rows.integer(0);
        read_tail(rows.integer(1), rows.integer(2), rows.view(3),
                  [&](std::int64_t at, std::int64_t calibration, std::int64_t units, bool doubtful) {
                      auto const place = static_cast<std::size_t>(calibration);
                      if (place < wanted.size() && wanted[place])
                          wanted[place]->push_back({boot, {at, units, doubtful}});
                  });
    }
    return out;
}

std::size_t Reader::Impl::readings_in(Scale const& scale, Stretch const& stretch, bool whole_blocks) {
    auto& row =
        db.prepared(
              "SELECT coalesce(sum(n),0) FROM packed WHERE calibration=? AND boot=? AND t0<? AND t0>=?"
              " AND t1>=? AND t1<? AND kind=0")
            .with(scale.id, stretch.boot, stretch.to,
                  whole_blocks ? stretch.from : stretch.from - longest_chunk_ms, stretch.from,
                  whole_blocks ? stretch.to : std::numeric_limits<std::int64_t>::max());
    auto const n = row.step() ? static_cast<std::size_t>(row.integer(0)) : 0;
    row.reset();
    return n;
}

std::size_t Reader::count_at_least(std::vector<HistoryQuery> const& queries) {
    std::size_t n = 0;
    impl_->read([&] {
        for (auto const& query : queries)
            for (auto const& stretch : impl_->stretches(query.window))
                for (auto const& scale : impl_->scales(query.probe))
                    n += impl_->readings_in(scale, stretch, true);
    });
    return n;
}

std::vector<History> Reader::history(std::vector<HistoryQuery> const& queries) {
    std::vector<History> out(queries.size());
    impl_->read([&] {
        auto& self = *impl_;
        std::vector<std::vector<Scale>> scales;
        std::vector<std::int64_t> wanted;
        for (auto const& q : queries) {
            scales.push_back(self.scales(q.probe));
            for (auto const& s : scales.back()) wanted.push_back(s.id);
        }
        auto const tail = self.read_tail_of(wanted);
        for (std::size_t i = 0; i < queries.size(); ++i) {
            auto const& q = queries[i];
            auto const from = q.window.from.time_since_epoch().count(),
                       to = q.window.to.time_since_epoch().count();
            if (from >= to) continue;
            auto grain = q.grain.count();
            if (grain > 0) grain = std::max(grain, (to - from) / most_buckets + 1);
            int const level = grain > 0 ? level_for(grain) : -1;
            std::vector<Sum> buckets(grain > 0 ? static_cast<std::size_t>((to - from - 1) / grain + 1) : 0);
            std::vector<Point> points;
            for (auto const& stretch : self.stretches(q.window)) {
                auto const zero = self.moment(stretch.boot, 0);
                auto const offset = zero.wall.time_since_epoch().count();
                auto const bucket = [&](std::int64_t at) -> Sum& {
                    auto const place = static_cast<std::size_t>((std::max(from, at + offset) - from) / grain);
                    return buckets[std::min(place, buckets.size() - 1)];
                };
                auto const begin = points.size();
                for (auto const& scale : scales[i]) {
                    double const gain = q.raw ? 1 : scale.gain, shift = q.raw ? 0 : scale.shift;
                    auto const take = [&](Sample const& s) {
                        double const c = to_celsius(s.units) * gain + shift;
                        if (grain > 0) {
                            auto& b = bucket(s.at);
                            b.add(stretch.boot, s.at, 1, c, c, c);
                            b.doubtful = b.doubtful || s.doubtful;
                            return;
                        }
                        auto at = zero;
                        at.at += Span(s.at), at.wall += Span(s.at);
                        points.push_back({at, Span(0), 1, c, c, c, s.doubtful});
                    };
                    auto const add_roll = [&](std::int64_t boot, std::int64_t at, std::int64_t n,
                                              std::int64_t min, std::int64_t max, std::int64_t sum) {
                        double const a = to_celsius(min) * gain + shift, b = to_celsius(max) * gain + shift;
                        bucket(at).add(boot, at, static_cast<std::uint32_t>(n), std::min(a, b),
                                       std::max(a, b),
                                       to_celsius(sum) * gain + shift * static_cast<double>(n));
                    };
                    // Of minutes whose readings were thinned away the minute is what is known.
                    auto const sum_readings = [&](Stretch const& s) {
                        auto const width = roll_widths.front();
                        auto const first = floor_div(s.from + width - 1, width);
                        auto const end = std::max(first, floor_div(s.to, width));
                        std::vector<bool> read(static_cast<std::size_t>(end - first));
                        self.each_reading(scale, s, [&](Sample const& sample) {
                            auto const k = floor_div(sample.at, width);
                            if (k >= first && k < end) read[static_cast<std::size_t>(k - first)] = true;
                            take(sample);
                        });
                        self.each_roll(scale, s.boot, 0, first, end,
                                       [&](std::int64_t k, std::int64_t n, std::int64_t min, std::int64_t max,
                                           std::int64_t sum) {
                                           if (read[static_cast<std::size_t>(k - first)]) return;
                                           add_roll(s.boot, k * width + width / 2, n, min, max, sum);
                                       });
                    };
                    // Whole roll-ups inside, the edges from the next finer level, the last of them reading by
                    // reading.
                    auto const sum_up = [&](auto const& again, Stretch const& s, int at_level) -> void {
                        if (s.from >= s.to) return;
                        if (at_level < 0 && grain == 0) return self.each_reading(scale, s, take);
                        if (at_level < 0) return sum_readings(s);
                        auto const width = roll_widths[static_cast<std::size_t>(at_level)];
                        auto const first = floor_div(s.from + width - 1, width), end = floor_div(s.to, width);
                        if (first >= end) return again(again, s, at_level - 1);
                        again(again, {s.boot, s.from, first * width}, at_level - 1);
                        self.each_roll(
                            scale, s.boot, at_level, first, end,
                            [&](std::int64_t k, std::int64_t n, std::int64_t min, std::int64_t max,
                                std::int64_t sum) { add_roll(s.boot, k * width, n, min, max, sum); });
                        again(again, {s.boot, end * width, s.to}, at_level - 1);
                    };
                    // Growing would cost more than reading: the memory is new to the process each time.
                    if (grain == 0) points.reserve(points.size() + self.readings_in(scale, stretch) + 64);
                    sum_up(sum_up, stretch, level);
                    if (auto const open = tail.find(scale.id); open != tail.end())
                        for (auto const& t : open->second)
                            if (t.boot == stretch.boot && t.sample.at >= stretch.from &&
                                t.sample.at < stretch.to)
                                take(t.sample);
                }
                auto const earlier = [](Point const& a, Point const& b) { return a.at.at < b.at.at; };
                auto const of_boot = points.begin() + static_cast<std::ptrdiff_t>(begin);
                if (!std::is_sorted(of_boot, points.end(), earlier))
                    std::stable_sort(of_boot, points.end(), earlier);
            }
            for (std::size_t b = 0; b < buckets.size(); ++b) {
                auto const& sum = buckets[b];
                if (sum.n == 0) continue;
                auto const start = from + static_cast<std::int64_t>(b) * grain;
                points.push_back({self.moment(sum.boot, start - self.boots[sum.boot].offset_ms), Span(grain),
                                  sum.n, sum.min, sum.max, sum.sum / sum.n, sum.doubtful});
            }
            out[i].points = std::move(points);

            for (auto const& stretch : self.stretches(q.window)) {
                auto& fault =
                    self.db
                        .prepared(
                            "SELECT f.t0, f.t1, f.n, f.kind, f.reason FROM fault f JOIN probe p ON"
                            " p.id=f.probe WHERE p.name=? AND f.boot=? AND f.t1>=? AND f.t0<? ORDER BY f.id")
                        .with(q.probe, stretch.boot, stretch.from, stretch.to);
                while (fault.step())
                    out[i].faults.push_back({self.moment(stretch.boot, fault.integer(0)),
                                             self.moment(stretch.boot, fault.integer(1)),
                                             static_cast<std::uint32_t>(fault.integer(2)), fault.text(3),
                                             fault.text(4)});
                auto& bad =
                    self.db
                        .prepared(
                            "SELECT r.boot_ms, r.raw, r.kind, r.reason FROM rejected r JOIN probe p ON"
                            " p.id=r.probe WHERE p.name=? AND r.boot=? AND r.boot_ms>=? AND r.boot_ms<?"
                            " ORDER BY r.id")
                        .with(q.probe, stretch.boot, stretch.from, stretch.to);
                while (bad.step()) {
                    std::optional<double> raw;
                    if (!bad.null(1)) raw = bad.real(1);
                    out[i].rejected.push_back(
                        {self.moment(stretch.boot, bad.integer(0)), raw, bad.text(2), bad.text(3)});
                }
            }
        }
    });
    return out;
}

History Reader::history(HistoryQuery const& query) {
    auto all = history(std::vector{query});
    return std::move(all.front());
}

std::optional<Point> Reader::last(std::string const& probe) {
    std::optional<Point> out;
    impl_->read([&] {
        auto& self = *impl_;
        auto const consider = [&](Scale const& scale, std::int64_t boot, Sample const& s) {
            if (out && std::pair(boot, s.at) < std::pair(out->at.boot, out->at.at.time_since_epoch().count()))
                return;
            double const c = to_celsius(s.units) * scale.gain + scale.shift;
            out = Point{self.moment(boot, s.at), Span(0), 1, c, c, c, s.doubtful};
        };
        auto const scales = self.scales(probe);
        std::vector<std::int64_t> ids;
        for (auto const& s : scales) ids.push_back(s.id);
        auto const tail = self.read_tail_of(ids);
        for (auto const& scale : scales) {
            auto& row =
                self.db
                    .prepared(
                        "SELECT boot, t1 FROM packed WHERE calibration=? AND kind=0 ORDER BY boot DESC,"
                        " t0 DESC LIMIT 1")
                    .with(scale.id);
            if (row.step()) {
                Stretch const end{row.integer(0), row.integer(1), row.integer(1) + 1};
                row.reset();
                self.each_reading(scale, end, [&](Sample const& s) { consider(scale, end.boot, s); });
            }
            for (auto const& t : tail.at(scale.id)) consider(scale, t.boot, t.sample);
        }
    });
    return out;
}

BandTime Reader::band_time(std::string const& probe, Window window, double low_c, double high_c, Span most) {
    BandTime out;
    auto const all = history(HistoryQuery{probe, window, Span(0), false}).points;
    double sum = 0;
    Span known{0};
    for (std::size_t i = 0; i < all.size(); ++i) {
        double const c = all[i].mean;
        out.min = std::min(out.min.value_or(c), c), out.max = std::max(out.max.value_or(c), c);
        sum += c;
        auto const next = i + 1 < all.size() ? all[i + 1].at.wall : window.to;
        auto const lasts = std::clamp(Span(next - all[i].at.wall), Span(0), most);
        (c < low_c ? out.below : c > high_c ? out.above : out.in) += lasts;
        known += lasts;
    }
    if (!all.empty()) out.mean = sum / static_cast<double>(all.size());
    out.without = std::max(Span(0), Span(window.to - window.from) - known);
    return out;
}

}  // namespace ingle::logbook
