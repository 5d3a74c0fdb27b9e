// From bytes to lines: the bytes of a serial source come in pieces of any size. Pure; owned by one driver.
#pragma once

#include <cstddef>
#include <string>
#include <string_view>
#include <vector>

namespace ingle {

class LineAssembler {
public:
    static constexpr std::size_t longest =
        512;  // bytes of one line; a source without line ends cannot grow it

    // After opening: what comes before the first line end is the tail of a line, and is dropped.
    void restart();
    // The lines that these bytes complete, without their ends (CR, LF or CRLF; empty lines included).
    std::vector<std::string> push(std::string_view bytes);

    std::size_t waiting() const { return line_.size(); }
    unsigned long tails_dropped() const { return tails_dropped_; }
    unsigned long overlong() const { return overlong_; }

private:
    std::string line_;
    bool in_tail_ = true;
    bool discarding_ = false;  // the rest of a line that was too long
    bool after_cr_ = false;
    unsigned long tails_dropped_ = 0;
    unsigned long overlong_ = 0;
};

}  // namespace ingle
