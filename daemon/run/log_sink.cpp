#include "daemon/run/log_sink.hpp"

#include <spdlog/pattern_formatter.h>
#include <spdlog/sinks/base_sink.h>
#include <spdlog/spdlog.h>
#include <sys/poll.h>
#include <sys/socket.h>
#include <unistd.h>

#include <cerrno>
#include <chrono>
#include <memory>
#include <mutex>
#include <string>
#include <string_view>
#include <utility>

#include "config/plain_text.hpp"

namespace ingle {
namespace {

// POSIX: a pipe that poll() calls writable takes so much at once.
constexpr std::size_t longest_line = 4096;

class NeverWaiting final : public spdlog::sinks::base_sink<std::mutex> {
public:
    explicit NeverWaiting(int descriptor) : descriptor_(descriptor) {}

private:
    void sink_it_(spdlog::details::log_msg const& message) override {
        spdlog::memory_buf_t text;
        formatter_->format(message, text);
        // What a wire or a file said is in it.
        auto line = plain_text(std::string_view(text.data(), text.size()));
        if (line.size() > longest_line) line.replace(longest_line - 4, std::string::npos, "...\n");
        if (left_out_ > 0 &&
            write_now(std::to_string(left_out_) + " lines were left out: nobody read them\n"))
            left_out_ = 0;
        if (!write_now(line)) ++left_out_;
    }
    void flush_() override {}

    bool write_now(std::string_view line) {
        auto const length = static_cast<ssize_t>(line.size());
        auto const sent = send(descriptor_, line.data(), line.size(), MSG_DONTWAIT | MSG_NOSIGNAL);
        if (sent >= 0 || errno != ENOTSOCK) return sent == length;
        pollfd place{descriptor_, POLLOUT, 0};
        if (poll(&place, 1, 0) != 1 || (place.revents & POLLOUT) == 0) return false;
        return write(descriptor_, line.data(), line.size()) == length;
    }

    int descriptor_;
    std::size_t left_out_ = 0;
};

class LocalTimeFlag final : public spdlog::custom_flag_formatter {
public:
    explicit LocalTimeFlag(TimeZone zone) : zone_(std::move(zone)) {}
    void format(spdlog::details::log_msg const& message, std::tm const&, spdlog::memory_buf_t& out) override {
        auto const text = zone_.iso(std::chrono::floor<std::chrono::seconds>(message.time), "+00:00");
        out.append(text.data(), text.data() + text.size());
    }
    std::unique_ptr<custom_flag_formatter> clone() const override {
        return std::make_unique<LocalTimeFlag>(zone_);
    }

private:
    TimeZone zone_;
};

}  // namespace

std::shared_ptr<spdlog::logger> make_log(int descriptor) {
    return std::make_shared<spdlog::logger>("ingled", std::make_shared<NeverWaiting>(descriptor));
}

void write_log_times(TimeZone const& zone) {
    auto formatter = std::make_unique<spdlog::pattern_formatter>(spdlog::pattern_time_type::utc);
    formatter->add_flag<LocalTimeFlag>('*', zone).set_pattern("%* %l: %v");
    spdlog::set_formatter(std::move(formatter));
}

void log_line(Severity severity, std::string const& text) {
    auto const level = severity == Severity::trouble ? spdlog::level::warn
                       : severity == Severity::note  ? spdlog::level::info
                                                     : spdlog::level::debug;
    spdlog::log(level, "{}", text);
}

void log_what_is_not_restored(Effects const& effects) {
    for (auto const& effect : effects)
        if (auto const* event = std::get_if<Event>(&effect); event && event->name == "not-restored")
            spdlog::warn("{}", event->text);
}

}  // namespace ingle
