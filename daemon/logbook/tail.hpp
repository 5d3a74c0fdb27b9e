// The open end of the logbook: what one commit brought, as one row of JSON that any SQLite tool can read.
// Pure. v = [[ms after t0, calibration id, code, code, ...], ...]: the codes are of this calibration and the
// ones after it; value = code * step / 18000 degC; a code in quotes is a doubtful reading. side = [[ms after
// t0, calibration id, cold junction or null, chip word or null], ...], cold junction in 1/18000 degC.
#pragma once

#include <cstdint>
#include <optional>
#include <span>
#include <string>
#include <string_view>
#include <vector>

namespace ingle::logbook {

struct TailReading {
    std::int64_t at = 0;
    std::int64_t calibration = 0;
    std::int64_t units = 0;
    bool doubtful = false;
    std::optional<std::int64_t> cold_junction;  // units
    std::optional<std::uint32_t> word;
};

struct TailRow {
    std::int64_t t0 = 0, step = 1;
    std::string v, side;  // side "" = none
};

TailRow write_tail(std::span<TailReading const> readings);  // of one boot, in order of arrival; not empty

struct SideReading {
    std::int64_t at = 0, calibration = 0;
    std::optional<std::int64_t> cold_junction;
    std::optional<std::uint32_t> word;
};
// Both append to `out` what can be read, and stop at what cannot (false).
template <class Each>
bool read_tail(std::int64_t t0, std::int64_t step, std::string_view v,
               Each each);  // each(at, calibration, units, doubtful)
bool read_side(std::int64_t t0, std::string_view side, std::vector<SideReading>& out);

// The little of JSON that the rows are made of.
class Scanner {
public:
    explicit Scanner(std::string_view text) : at_(text.data()), end_(text.data() + text.size()) {}
    bool take(char c) {
        if (at_ == end_ || *at_ != c) return false;
        ++at_;
        return true;
    }
    bool number(std::int64_t& value) {
        bool const negative = take('-');
        if (at_ == end_ || *at_ < '0' || *at_ > '9') return false;
        value = 0;
        for (; at_ != end_ && *at_ >= '0' && *at_ <= '9' && value < INT64_MAX / 16; ++at_)
            value = value * 10 + (*at_ - '0');
        if (negative) value = -value;
        return true;
    }
    bool null() {
        if (end_ - at_ < 4 || std::string_view(at_, 4) != "null") return false;
        at_ += 4;
        return true;
    }
    bool done() const { return at_ == end_; }

private:
    char const* at_;
    char const* end_;
};

template <class Each>
bool read_tail(std::int64_t t0, std::int64_t step, std::string_view v, Each each) {
    Scanner in(v);
    if (!in.take('[')) return false;
    do {
        std::int64_t after = 0, calibration = 0, code = 0;
        if (!in.take('[') || !in.number(after) || !in.take(',') || !in.number(calibration)) return false;
        for (; in.take(','); ++calibration) {
            bool const doubtful = in.take('"');
            if (!in.number(code) || (doubtful && !in.take('"'))) return false;
            each(t0 + after, calibration, code * step, doubtful);
        }
        if (!in.take(']')) return false;
    } while (in.take(','));
    return in.take(']') && in.done();
}

}  // namespace ingle::logbook
