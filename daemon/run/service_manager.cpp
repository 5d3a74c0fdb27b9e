#include "daemon/run/service_manager.hpp"

#include <sys/socket.h>
#include <sys/un.h>
#include <unistd.h>

#include <charconv>
#include <cstddef>
#include <cstdlib>
#include <cstring>
#include <ctime>
#include <string_view>

namespace ingle {
namespace {

std::optional<long long> whole_number(char const* text) {
    if (!text) return std::nullopt;
    std::string_view const view(text);
    long long value = 0;
    auto const [end, error] = std::from_chars(view.data(), view.data() + view.size(), value);
    if (error != std::errc{} || end != view.data() + view.size()) return std::nullopt;
    return value;
}

}  // namespace

ServiceManager::ServiceManager() {
    if (char const* path = std::getenv("NOTIFY_SOCKET")) socket_ = path;
    auto const limit = whole_number(std::getenv("WATCHDOG_USEC"));
    auto const whom = whole_number(std::getenv("WATCHDOG_PID"));
    if (limit && *limit > 0 && (!whom || *whom == getpid())) ping_every_ = Span(*limit / 2000);
    for (char const* name : {"NOTIFY_SOCKET", "WATCHDOG_USEC", "WATCHDOG_PID"}) unsetenv(name);
}

void ServiceManager::ready(std::string const& status) {
    send("READY=1\nSTATUS=" + status);
}
void ServiceManager::alive() {
    send("WATCHDOG=1");
}
void ServiceManager::stopping() {
    send("STOPPING=1");
}

void ServiceManager::reloading() {
    timespec now{};
    clock_gettime(CLOCK_MONOTONIC, &now);
    send("RELOADING=1\nMONOTONIC_USEC=" + std::to_string(now.tv_sec * 1'000'000LL + now.tv_nsec / 1000));
}

void ServiceManager::send(std::string const& text) const {
    sockaddr_un address{};
    if (socket_.empty() || socket_.size() >= sizeof address.sun_path) return;
    address.sun_family = AF_UNIX;
    std::memcpy(address.sun_path, socket_.data(), socket_.size());
    if (socket_[0] == '@') address.sun_path[0] = '\0';  // the abstract namespace
    int const fd = socket(AF_UNIX, SOCK_DGRAM | SOCK_CLOEXEC, 0);
    if (fd < 0) return;
    auto const length = static_cast<socklen_t>(offsetof(sockaddr_un, sun_path) + socket_.size());
    // Nothing can be done if the manager does not listen: it then acts on its own limit.
    [[maybe_unused]] auto const sent = sendto(fd, text.data(), text.size(), MSG_NOSIGNAL | MSG_DONTWAIT,
                                              reinterpret_cast<sockaddr const*>(&address), length);
    close(fd);
}

}  // namespace ingle
