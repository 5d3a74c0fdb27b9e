#include "daemon/logbook/pack.hpp"

#include <algorithm>
#include <cmath>
#include <numeric>

namespace ingle::logbook {
namespace {

constexpr int most_empty = 60;  // places: a longer gap begins a new chunk

std::int64_t usual_step(std::span<Sample const> samples) {
    std::vector<std::int64_t> steps;
    for (std::size_t i = 1; i < samples.size(); ++i)
        if (auto const d = samples[i].at - samples[i - 1].at; d > 0) steps.push_back(d);
    if (steps.empty()) return 1000;
    auto const middle = steps.begin() + static_cast<std::ptrdiff_t>(steps.size() / 2);
    std::nth_element(steps.begin(), middle, steps.end());
    return std::max<std::int64_t>(1, *middle);
}

}  // namespace

std::optional<std::int32_t> to_units(double celsius) {
    if (!(std::abs(celsius) <= 100'000)) return std::nullopt;
    for (double const steps : {16.0, 100.0, 180.0}) {
        double const count = celsius * steps;
        if (std::abs(count - std::nearbyint(count)) < 1e-6 * steps / 100)
            return static_cast<std::int32_t>(std::nearbyint(count) * (units_per_kelvin / steps));
    }
    return static_cast<std::int32_t>(std::nearbyint(celsius * 1000) * (units_per_kelvin / 1000.0));
}

Codes pack(std::span<std::int64_t const> values) {
    Codes out;
    std::int64_t low = INT64_MAX, high = INT64_MIN, gap = 0;
    bool holes = false;
    for (auto const v : values) {
        if (v == missing) {
            holes = true;
            continue;
        }
        low = std::min(low, v), high = std::max(high, v);
    }
    if (high < low) low = high = 0;
    for (auto const v : values)
        if (v != missing) gap = std::gcd(gap, v - low);
    out.base = low;
    out.step = std::max<std::int64_t>(1, gap);
    auto const top = (high - low) / out.step + 1;
    if (top == 1 && !holes) return out;
    out.width = top <= 15 ? 4 : top <= 255 ? 8 : top <= 65'535 ? 16 : 32;
    out.bytes.assign((values.size() * static_cast<std::size_t>(out.width) + 7) / 8, 0);
    for (std::size_t i = 0; i < values.size(); ++i) {
        if (values[i] == missing) continue;
        auto const code = static_cast<std::uint32_t>((values[i] - low) / out.step + 1);
        if (out.width == 4) {
            out.bytes[i / 2] |= static_cast<unsigned char>(i % 2 == 0 ? code << 4 : code);
        } else {
            auto const size = static_cast<std::size_t>(out.width / 8);
            for (std::size_t b = 0; b < size; ++b)
                out.bytes[i * size + b] = static_cast<unsigned char>(code >> 8 * (size - 1 - b));
        }
    }
    return out;
}

std::vector<Chunk> cut(std::span<Sample const> samples) {
    std::vector<Chunk> chunks;
    auto const every = usual_step(samples);
    std::vector<std::int64_t> values, stamps;
    for (std::size_t i = 0; i < samples.size();) {
        Chunk chunk;
        chunk.t0 = samples[i].at;
        chunk.every = every;
        std::int64_t high = INT64_MIN;
        values.clear(), stamps.clear();
        bool late = false;
        for (; i < samples.size(); ++i) {
            auto const& s = samples[i];
            auto place = static_cast<std::int64_t>(values.size());
            if (!values.empty()) {
                auto const nearest = (s.at - chunk.t0 + every / 2) / every;
                if (nearest - place > most_empty || s.at - chunk.t0 > longest_chunk_ms) break;
                place = std::max(place, nearest);
            }
            auto const off = s.at - (chunk.t0 + place * every);
            if (place >= most_slots || off < -1'000'000'000 || off > 1'000'000'000) break;
            values.resize(static_cast<std::size_t>(place), missing);
            stamps.resize(static_cast<std::size_t>(place), missing);
            values.push_back(s.units), stamps.push_back(off);
            late = late || off != 0;
            if (s.doubtful) chunk.marks.resize(values.size(), '.'), chunk.marks.back() = '?';
            chunk.t1 = s.at;
            ++chunk.count;
            chunk.sum += s.units;
            high = std::max(high, s.units);
        }
        chunk.slots = static_cast<int>(values.size());
        chunk.max = high;
        chunk.values = pack(values);
        if (late) {
            std::replace(stamps.begin(), stamps.end(), missing, std::int64_t{0});
            chunk.stamps = pack(stamps);
        }
        if (!chunk.marks.empty()) chunk.marks.resize(values.size(), '.');
        chunks.push_back(std::move(chunk));
    }
    return chunks;
}

}  // namespace ingle::logbook
