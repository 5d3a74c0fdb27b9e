// How a stretch of one probe's readings becomes a few bytes that plain SQL can take apart again. Pure; any
// thread. The unit is 1/18000 K: every step of 1/16 °C, 0.01 °C, 0.1 °F and 0.01 °F is a whole number of it.
#pragma once

#include <cstdint>
#include <optional>
#include <span>
#include <string>
#include <string_view>
#include <vector>

namespace ingle::logbook {

constexpr std::int64_t units_per_kelvin = 18'000;
constexpr std::int64_t missing = INT64_MIN;

// degC to units: exact for the usual steps; anything finer is rounded to 0.001 °C. Empty beyond +-100000 °C.
std::optional<std::int32_t> to_units(double celsius);
constexpr double to_celsius(std::int64_t units) {
    return static_cast<double>(units) / static_cast<double>(units_per_kelvin);
}

// n integers as codes of `width` bits (0, 4, 8, 16, 32; big endian): value = base + (code - 1) * step, code 0
// = missing. Width 0: every value is `base`.
struct Codes {
    int width = 0;
    std::int64_t base = 0, step = 1;
    std::vector<unsigned char> bytes;
};
Codes pack(std::span<std::int64_t const> values);  // `missing` marks the missing ones

// Calls each(i, value) for the codes in [from, to) that are not missing; `bytes` may be damaged, not read
// past.
template <class Each>
void unpack(int width, std::int64_t base, std::int64_t step, std::string_view bytes, int from, int to,
            Each each) {
    auto const byte = [&](std::size_t i) -> std::uint32_t {
        return i < bytes.size() ? static_cast<unsigned char>(bytes[i]) : 0U;
    };
    for (int i = from; i < to; ++i) {
        std::uint32_t code = 1;
        auto const u = static_cast<std::size_t>(i);
        if (width == 4)
            code = u % 2 == 0 ? byte(u / 2) >> 4 : byte(u / 2) & 15U;
        else if (width == 8)
            code = byte(u);
        else if (width == 16)
            code = byte(2 * u) << 8 | byte(2 * u + 1);
        else if (width == 32)
            code = byte(4 * u) << 24 | byte(4 * u + 1) << 16 | byte(4 * u + 2) << 8 | byte(4 * u + 3);
        if (code != 0) each(i, base + (static_cast<std::int64_t>(code) - 1) * step);
    }
}

struct Sample {
    std::int64_t at = 0;  // ms of its boot
    std::int64_t units = 0;
    bool doubtful = false;
};

// A chunk: `slots` equally spaced places from t0, some of them empty, with what each stamp differs from its
// place.
struct Chunk {
    std::int64_t t0 = 0, t1 = 0;  // first and last stamp
    std::int64_t every = 1;       // ms between places
    int slots = 0, count = 0;     // places; readings
    Codes values;
    std::optional<Codes> stamps;    // stamp - place, in ms; empty: all 0
    std::string marks;              // "" or one character a place: '?' doubtful, '.' not
    std::int64_t max = 0, sum = 0;  // the minimum is values.base
};
constexpr int most_slots = 900;
constexpr int most_minutes = 240;                         // in one row of roll-ups
constexpr std::int64_t longest_chunk_ms = 4 * 3'600'000;  // a reader relies on it

// Cuts readings (in order of time) into chunks; every reading comes back exactly.
std::vector<Chunk> cut(std::span<Sample const> samples);

}  // namespace ingle::logbook
