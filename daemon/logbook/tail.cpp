#include "daemon/logbook/tail.hpp"

#include <charconv>
#include <numeric>

namespace ingle::logbook {
namespace {

void append(std::string& text, std::int64_t value) {
    char buffer[24];
    text.append(buffer, std::to_chars(buffer, buffer + sizeof buffer, value).ptr);
}

}  // namespace

TailRow write_tail(std::span<TailReading const> readings) {
    TailRow row;
    row.t0 = readings.front().at;
    std::int64_t gap = 0;
    for (auto const& r : readings) gap = std::gcd(gap, r.units);
    row.step = gap == 0 ? 1 : gap;
    row.v.reserve(readings.size() * 8 + 16);
    TailReading const* before = nullptr;
    for (auto const& r : readings) {
        if (before && before->at == r.at && before->calibration + 1 == r.calibration) {
            row.v += ',';
        } else {
            row.v += before ? "],[" : "[[";
            append(row.v, r.at - row.t0);
            row.v += ',';
            append(row.v, r.calibration);
            row.v += ',';
        }
        if (r.doubtful) row.v += '"';
        append(row.v, r.units / row.step);
        if (r.doubtful) row.v += '"';
        before = &r;
        if (!r.cold_junction && !r.word) continue;
        row.side += row.side.empty() ? "[[" : ",[";
        append(row.side, r.at - row.t0);
        row.side += ',';
        append(row.side, r.calibration);
        row.side += ',';
        if (r.cold_junction)
            append(row.side, *r.cold_junction);
        else
            row.side += "null";
        row.side += ',';
        if (r.word)
            append(row.side, *r.word);
        else
            row.side += "null";
        row.side += ']';
    }
    row.v += "]]";
    if (!row.side.empty()) row.side += ']';
    return row;
}

bool read_side(std::int64_t t0, std::string_view side, std::vector<SideReading>& out) {
    Scanner in(side);
    if (!in.take('[')) return false;
    do {
        SideReading r;
        std::int64_t after = 0, value = 0;
        if (!in.take('[') || !in.number(after) || !in.take(',') || !in.number(r.calibration) || !in.take(','))
            return false;
        r.at = t0 + after;
        if (!in.null()) {
            if (!in.number(value)) return false;
            r.cold_junction = value;
        }
        if (!in.take(',')) return false;
        if (!in.null()) {
            if (!in.number(value) || value < 0 || value > UINT32_MAX) return false;
            r.word = static_cast<std::uint32_t>(value);
        }
        if (!in.take(']')) return false;
        out.push_back(r);
    } while (in.take(','));
    return in.take(']') && in.done();
}

}  // namespace ingle::logbook
