#include "drivers/serial_line/lines.hpp"

#include <utility>

namespace ingle {

void LineAssembler::restart() {
    line_.clear();
    in_tail_ = true;
    discarding_ = false;
    after_cr_ = false;
}

std::vector<std::string> LineAssembler::push(std::string_view bytes) {
    std::vector<std::string> lines;
    for (char const c : bytes) {
        bool const second_half = c == '\n' && after_cr_;
        after_cr_ = c == '\r';
        if (second_half) continue;
        if (c != '\r' && c != '\n') {
            if (discarding_) continue;
            if (line_.size() == longest) {
                ++overlong_;
                discarding_ = true;
                line_.clear();
            } else {
                line_ += c;
            }
            continue;
        }
        if (in_tail_) {
            if (!line_.empty()) ++tails_dropped_;
        } else if (!discarding_) {
            lines.push_back(std::move(line_));
        }
        line_.clear();
        in_tail_ = discarding_ = false;
    }
    return lines;
}

}  // namespace ingle
