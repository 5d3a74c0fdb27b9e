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
    std::optional<Instant> instant(std::string_view key) const;  // already shifted into this boot

    // The version of the texts below `prefix`. Texts without one are from before there were versions: 1.
    void put_version(std::string const& prefix, int version) {
        put(prefix + "version", std::int64_t{version});
    }
    bool is_version(std::string const& prefix, int version) const {
        return !text(prefix + "version") ? version == 1 : integer(prefix + "version") == version;
    }

    // Instants read from now on are moved by `shift` (old boot's time + shift = this boot's time).
    void shift_instants(Span shift) { shift_ = shift; }
    Span shift() const { return shift_; }

    std::map<std::string, std::string, std::less<>> const& all() const { return values_; }
    // Keys that begin with `prefix`, in order.
    std::map<std::string, std::string, std::less<>>::const_iterator first_with(
        std::string_view prefix) const {
        return values_.lower_bound(prefix);
    }

private:
    std::map<std::string, std::string, std::less<>> values_;
    Span shift_{0};
};

}  // namespace ingle
