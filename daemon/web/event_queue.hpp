// One client of the event stream: a bounded queue between the core and a socket that may be slow. io_context
// thread.
#pragma once

#include <cstddef>
#include <deque>
#include <memory>
#include <string>

namespace ingle {

class EventQueue {
public:
    static constexpr std::size_t most_bytes = 256 * 1024;  // minutes of a whole kitchen's events

    // False once the client fell too far behind: everything queued is thrown away, it must be dropped.
    bool push(std::shared_ptr<std::string const> const& text) {
        if (overflowed_) return false;
        if (bytes_ + text->size() > most_bytes) {
            overflowed_ = true;
            waiting_.clear();
            bytes_ = 0;
            return false;
        }
        waiting_.push_back(text);
        bytes_ += text->size();
        return true;
    }
    std::shared_ptr<std::string const> pop() {
        if (waiting_.empty()) return nullptr;
        auto text = std::move(waiting_.front());
        waiting_.pop_front();
        bytes_ -= text->size();
        return text;
    }
    bool overflowed() const { return overflowed_; }
    std::size_t bytes() const { return bytes_; }

private:
    std::deque<std::shared_ptr<std::string const>> waiting_;  // shared by all clients
    std::size_t bytes_ = 0;
    bool overflowed_ = false;
};

}  // namespace ingle
