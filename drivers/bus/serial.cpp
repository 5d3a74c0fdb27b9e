#include "drivers/bus/serial.hpp"

#include <fcntl.h>
#include <poll.h>
#include <sys/file.h>
#include <sys/ioctl.h>
#include <termios.h>
#include <unistd.h>

#include <algorithm>
#include <cerrno>
#include <system_error>
#include <utility>

#include "drivers/bus/tty_names.hpp"

namespace ingle {
namespace {

namespace asio = boost::asio;

constexpr std::pair<unsigned, speed_t> speeds[] = {
    {300, B300},         {600, B600},         {1200, B1200},       {2400, B2400},      {4800, B4800},
    {9600, B9600},       {19200, B19200},     {38400, B38400},     {57600, B57600},    {115200, B115200},
    {230400, B230400},   {460800, B460800},   {921600, B921600},   {500000, B500000},  {1000000, B1000000},
    {1500000, B1500000}, {2000000, B2000000}, {3000000, B3000000}, {4000000, B4000000}};

std::string error_text(int error) {
    return std::system_category().message(error);
}

bool set_raw(int fd, SerialSettings const& settings) {
    termios options{};
    if (tcgetattr(fd, &options) != 0) return false;
    cfmakeraw(&options);
    options.c_cflag |= CLOCAL | CREAD;
    options.c_cflag &= ~static_cast<tcflag_t>(HUPCL | CSTOPB | CRTSCTS | PARENB |
                                              PARODD);  // HUPCL: closing would reset the board
    if (settings.parity != Parity::none) options.c_cflag |= PARENB;
    if (settings.parity == Parity::odd) options.c_cflag |= PARODD;
    options.c_cc[VMIN] = 1;
    options.c_cc[VTIME] = 0;
    for (auto const& [baud, name] : speeds)
        if (baud == settings.baud) {
            cfsetispeed(&options, name);
            cfsetospeed(&options, name);
        }
    return tcsetattr(fd, TCSANOW, &options) == 0;
}

bool hung_up(int fd) {
    pollfd state{fd, POLLIN, 0};
    return ::poll(&state, 1, 0) < 0 || (state.revents & (POLLHUP | POLLERR | POLLNVAL)) != 0;
}

}  // namespace

bool is_serial_speed(unsigned baud) {
    return std::ranges::any_of(speeds, [&](auto const& speed) { return speed.first == baud; });
}

SerialPort::SerialPort(asio::io_context& io, SerialSettings settings, std::weak_ptr<SerialListener> listener)
    : settings_(std::move(settings)),
      listener_(std::move(listener)),
      port_(io),
      timer_(io),
      retry_(settings_.first_retry) {}

void SerialPort::start() {
    if (std::exchange(started_, true)) return;
    asio::co_spawn(port_.get_executor(), run(shared_from_this()),
                   [self = shared_from_this()](std::exception_ptr) {
                       // Nothing in run() throws but running out of memory: then the port counts as closed.
                       self->close();
                   });
}

void SerialPort::stop() {
    stopping_ = true;
    timer_.cancel();
    close();
}

asio::awaitable<void> SerialPort::run(std::shared_ptr<SerialPort> self) {
    while (!self->stopping_) {
        if (open()) {
            co_await listen();
            close();
        }
        if (stopping_) co_return;
        auto const length = retry_;
        retry_ = std::min(retry_ * 2, std::max(settings_.longest_retry, retry_));
        co_await pause(length);
    }
}

asio::awaitable<void> SerialPort::pause(std::chrono::milliseconds length) {
    boost::system::error_code ignored;
    timer_.expires_after(length);
    co_await timer_.async_wait(asio::redirect_error(asio::use_awaitable, ignored));
}

asio::awaitable<void> SerialPort::listen() {
    constexpr int most_empty_reads = 5;  // in a row; then the port is opened anew
    int empty = 0;
    while (!stopping_) {
        boost::system::error_code error;
        auto const count = co_await port_.async_read_some(asio::buffer(buffer_),
                                                          asio::redirect_error(asio::use_awaitable, error));
        if (stopping_) co_return;
        if (error == asio::error::eof && !hung_up(port_.native_handle()) && ++empty < most_empty_reads) {
            set_raw(port_.native_handle(), settings_);  // another program may have changed the modes
            co_await pause(std::chrono::milliseconds(20));
            continue;
        }
        if (error) {
            trouble({FaultKind::absent, settings_.path + ": the device is gone (" + error.message() + ")"});
            co_return;
        }
        empty = 0;
        retry_ = settings_.first_retry;
        if (auto const listener = listener_.lock())
            listener->on_bytes(BootClock::now(), std::string_view(buffer_.data(), count));
    }
}

bool SerialPort::open() {
    auto const& path = settings_.path;
    if (auto why = ambiguous_name(path, settings_.root); !why.empty()) {
        retry_ = settings_.refused_retry;
        trouble({FaultKind::refused, std::move(why)});
        return false;
    }
    int const fd = ::open(path.c_str(), O_RDWR | O_NOCTTY | O_NONBLOCK | O_CLOEXEC);
    int error = fd < 0 ? errno : 0;
    if (fd >= 0 && ::flock(fd, LOCK_EX | LOCK_NB) != 0) error = EBUSY;
    if (error == 0 && !isatty(fd)) error = ENOTTY;
    if (error == 0 && (::ioctl(fd, TIOCEXCL) != 0 || !set_raw(fd, settings_))) error = errno;
    if (error == 0) {
        ::tcflush(fd, TCIFLUSH);  // what waited while nobody read is old
        boost::system::error_code failed;
        port_.assign(fd, failed);
        if (!failed) {
            busy_since_ = {};
            told_.clear();
            if (auto const listener = listener_.lock()) listener->on_open();
            return !stopping_;
        }
        error = failed.value();
    }
    if (fd >= 0) ::close(fd);
    auto const now = std::chrono::steady_clock::now();
    if (error == EBUSY) {
        if (busy_since_ == std::chrono::steady_clock::time_point{}) busy_since_ = now;
        retry_ = std::min(retry_, std::chrono::milliseconds(1000));
        if (now - busy_since_ >= settings_.busy_is_quiet_for)
            trouble({FaultKind::refused, path + ": another program holds this port"});
        return false;
    }
    busy_since_ = {};
    if (error == EACCES || error == EPERM) {
        retry_ = settings_.refused_retry;
        trouble(
            {FaultKind::refused, path + ": no permission: it belongs to " + group_of_file_and_process(path)});
    } else if (error == ENOENT || error == ENXIO || error == ENODEV || error == EIO) {
        trouble({FaultKind::absent, path + ": no such device (" + error_text(error) + ")"});
    } else {
        trouble({FaultKind::refused, path + (error == ENOTTY ? ": this is no serial port"
                                                             : ": cannot be opened: " + error_text(error))});
    }
    return false;
}

void SerialPort::close() {
    if (!port_.is_open()) return;
    boost::system::error_code ignored;
    ::ioctl(port_.native_handle(), TIOCNXCL);
    ::tcflush(port_.native_handle(), TCIOFLUSH);  // closing must not wait for output that nobody takes
    port_.close(ignored);
}

void SerialPort::trouble(Fault why) {
    if (why.reason == told_) return;
    told_ = why.reason;
    if (auto const listener = listener_.lock()) listener->on_trouble(std::move(why));
}

}  // namespace ingle
