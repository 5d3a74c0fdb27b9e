// What a serial source has said since its port was opened: bytes in, readings per channel out, and in words
// why there are none. Pure (time is told); owned by one driver.
#pragma once

#include <optional>
#include <set>
#include <string>
#include <string_view>
#include <utility>
#include <vector>

#include "drivers/reading/reading.hpp"
#include "drivers/serial_line/decode.hpp"
#include "drivers/serial_line/lines.hpp"

namespace ingle {

struct SourceChannel {
    std::string name;  // a label or a 1-based place
    std::optional<TextUnit> unit;
};

class SerialSource {
public:
    // A board that restarts when its port is opened first sends its self-test: values count when this long
    // has passed since the first line, or when two in a row agree (both are then given).
    static constexpr Span settle_time{2500};
    static constexpr double agreement = 2.0;   // K
    static constexpr int unusable_limit = 10;  // lines in a row before "talks, but not understandably"

    SerialSource(std::vector<SourceChannel> channels, Comma comma);

    struct Heard {
        std::vector<std::pair<std::size_t, Reading>> readings;    // channel (its place above) and reading
        std::vector<std::pair<std::string, std::string>> events;  // event, text
    };
    void opened();
    Heard bytes(Instant at, std::string_view bytes);
    // Why channel `index` has had nothing for the last `limit`.
    Fault silence(std::size_t index, Instant now, Span limit) const;

private:
    void line(Instant at, std::string const& text, Heard& heard);
    void settle(std::size_t index, Reading reading, Heard& heard);
    void mark_bursts(Heard& heard);

    std::vector<SourceChannel> channels_;
    Comma comma_;
    LineAssembler lines_;
    std::vector<std::optional<Reading>> pending_;  // while settling
    std::vector<bool> settled_;
    std::vector<std::optional<Instant>> last_given_;
    std::optional<Instant> first_line_, last_byte_;
    std::set<std::string, std::less<>> labels_;  // seen since opening, at most a few
    std::string last_unusable_;
    int unusable_ = 0;
    int binary_ = 0;                // of these
    std::size_t without_line_ = 0;  // bytes since the last line
    bool told_unusable_ = false;
    bool understood_ = false;  // the last usable line had values
};

}  // namespace ingle
