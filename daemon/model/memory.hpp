// What must survive a restart, as flat keys and values. Each part of the core writes and reads its own keys
// ("alarm.12.state", "vessel.stockpot.hold.low"); the logbook stores them, nobody else looks inside.
// Instants are kept relative to the boot they were written in and shifted when read in a later one.
// Each part's texts carry the version of what they mean: those of another version are not read, so that a
// part begins anew after an upgrade rather than with something misread.
#pragma once

#include <cstdint>
#include <map>
#include <optional>
#include <string>
#include <string_view>

#include "drivers/reading/clock.hpp"

namespace ingle {

class Memory {
public:
    void put(std::string key, std::string text) { values_[std::move(key)] = std::move(text); }
    void put(std::string key, double value);  // shortest text that reads back exactly
    void put(std::string key, std::int64_t value);
    void put(std::string key, Instant at);  // "@<ms>"
    // The text of `key` in `other`, which has it; an instant as that of this boot.
    void put_as_in(Memory const& other, std::string const& key);

    std::optional<std::string> text(std::string_view key) const;
    std::optional<double> number(std::string_view key) const;
    std::optional<std::int64_t> integer(std::string_view key) const;
    // Already shifted into this boot. `ahead`: it lies so much after the moment at which it was set.
    std::optional<Instant> instant(std::string_view key, Span ahead = Span(0)) const;

    // The version of the texts below `prefix`. Texts without one are from before there were versions: 1.
    void put_version(std::string const& prefix, int version) {
        put(prefix + "version", std::int64_t{version});
    }
    bool is_version(std::string const& prefix, int version) const {
        return !text(prefix + "version") ? version == 1 : integer(prefix + "version") == version;
    }

    // Instants read from now on are moved by `shift` (old boot's time + shift = this boot's time).
    void shift_instants(Span shift) {
        shift_ = shift;
        newer_.reset();
    }
    Span shift() const { return shift_; }
    // Those set at `from` or later, in the old boot's time, are moved by another one. `placed`: it is right;
    // else outages whose sum alone is known lie on both sides of them, and they are the latest they can be.
    void shift_newer(Instant from, Span shift, bool placed) { newer_ = Newer{from, shift, placed}; }
    bool is_joined() const { return newer_.has_value(); }
    // Whether it is known how long ago that instant is, as far as its shift goes.
    bool is_placed(std::string_view key, Span ahead = Span(0)) const;

    std::map<std::string, std::string, std::less<>> const& all() const { return values_; }
    // Keys that begin with `prefix`, in order.
    std::map<std::string, std::string, std::less<>>::const_iterator first_with(
        std::string_view prefix) const {
        return values_.lower_bound(prefix);
    }

private:
    struct Newer {
        Instant from;
        Span shift;
        bool placed = true;
    };
    std::optional<Instant> as_written(std::string_view key) const;
    bool is_newer(Instant written, Span ahead) const { return newer_ && written - ahead >= newer_->from; }

    std::map<std::string, std::string, std::less<>> values_;
    Span shift_{0};
    std::optional<Newer> newer_;
};

}  // namespace ingle
