// Preloaded before libfaketime: the board that a daemon believes to run on. Which boot it is and whether a
// time service has set the clock are files of the test's (BOARD_BOOT_ID, BOARD_SYNCHRONISED: there or not);
// once the file BOARD_THROWS is there, the main thread's next wait for events throws;
// it has no battery clock, and the name hangs.example is never found. Timers go to the kernel as they are:
// libfaketime 0.9.10 moves absolute ones of the monotonic clock by the wall clock's offset even when it is
// told to leave that clock alone.
#include <dlfcn.h>
#include <fcntl.h>
#include <netdb.h>
#include <sys/epoll.h>
#include <sys/syscall.h>
#include <sys/timerfd.h>
#include <sys/timex.h>
#include <unistd.h>

#include <cstdio>
#include <cstdlib>
#include <cstring>
#include <stdexcept>

namespace {

char const* place_of(char const* path) {
    auto const* own = std::strcmp(path, "/proc/sys/kernel/random/boot_id") == 0 ? std::getenv("BOARD_BOOT_ID")
                      : std::strcmp(path, "/run/systemd/timesync/synchronized") == 0
                          ? std::getenv("BOARD_SYNCHRONISED")
                      : std::strncmp(path, "/sys/class/rtc/", 15) == 0 ? "/nonexistent"
                                                                       : nullptr;
    return own ? own : path;
}

}  // namespace

extern "C" {

int timerfd_settime(int fd, int flags, itimerspec const* value, itimerspec* old) noexcept {
    return static_cast<int>(syscall(SYS_timerfd_settime, fd, flags, value, old));
}

int adjtimex(timex*) noexcept {
    return TIME_ERROR;
}

int epoll_wait(int fd, epoll_event* events, int most, int timeout_ms) {
    auto const* const sign = std::getenv("BOARD_THROWS");
    if (sign && getpid() == static_cast<int>(syscall(SYS_gettid)) &&
        syscall(SYS_faccessat, AT_FDCWD, sign, F_OK) == 0)
        throw std::runtime_error("thrown by the board");
    auto* const real = reinterpret_cast<decltype(&epoll_wait)>(dlsym(RTLD_NEXT, "epoll_wait"));
    return real(fd, events, most, timeout_ms);
}

int access(char const* path, int mode) noexcept {
    return static_cast<int>(syscall(SYS_faccessat, AT_FDCWD, place_of(path), mode));
}

FILE* fopen64(char const* path, char const* mode) {
    auto* const real = reinterpret_cast<FILE* (*)(char const*, char const*)>(dlsym(RTLD_NEXT, "fopen64"));
    return real(place_of(path), mode);
}

// A resolver whose server does not answer.
int getaddrinfo(char const* node, char const* service, addrinfo const* hints, addrinfo** found) {
    if (node && std::strcmp(node, "hangs.example") == 0) sleep(120);
    auto* const real = reinterpret_cast<decltype(&getaddrinfo)>(dlsym(RTLD_NEXT, "getaddrinfo"));
    return real(node, service, hints, found);
}

FILE* fopen(char const* path, char const* mode) {
    return fopen64(path, mode);
}
}
