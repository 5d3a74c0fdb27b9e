// Preloaded: the clocks of a daemon stand until the test moves them, and the test waits until the daemon has
// done all that was due, so that days pass in a minute and a busy machine changes nothing but how long that
// takes. QUICK_CLOCK names the file through which they are moved (quick_clock.hpp).
#include <dlfcn.h>
#include <fcntl.h>
#include <pthread.h>
#include <sys/epoll.h>
#include <sys/mman.h>
#include <sys/syscall.h>
#include <sys/timerfd.h>
#include <sys/uio.h>
#include <unistd.h>

#include <cerrno>
#include <cstdlib>
#include <ctime>

#include "tests/system/quick_clock.hpp"

namespace {

using namespace ingle::quick_clock;

constexpr std::int64_t look_again_ns = 2'000'000;
constexpr int look_again_ms = 1, most_timers = 8;

Page* page() {
    static Page* const mapped = [] {
        auto const* path = std::getenv("QUICK_CLOCK");
        int const fd = path ? open(path, O_RDWR | O_CLOEXEC) : -1;
        void* const at =
            fd < 0 ? MAP_FAILED : mmap(nullptr, sizeof(Page), PROT_READ | PROT_WRITE, MAP_SHARED, fd, 0);
        if (at == MAP_FAILED) _exit(99);
        close(fd);
        return static_cast<Page*>(at);
    }();
    return mapped;
}

struct Timer {
    int fd = -1;
    std::int64_t due_ns = 0;  // of the boot clock; 0: not set
};
Timer timers[most_timers];

Timer* timer(int fd) {
    for (auto& one : timers)
        if (one.fd == fd || one.fd < 0) return one.fd = fd, &one;
    return nullptr;
}

template <typename Function>
Function* next(char const* name) {
    return reinterpret_cast<Function*>(dlsym(RTLD_NEXT, name));
}

ssize_t heard(int fd, ssize_t count) {
    int const error = errno;
    if (count > 0 && isatty(fd)) page()->bytes_heard += count;
    errno = error;
    return count;
}

int set_timer(int fd, std::int64_t in_ns) {
    itimerspec const value{{}, {0, in_ns}};
    return static_cast<int>(syscall(SYS_timerfd_settime, fd, 0, &value, nullptr));
}

bool fire_what_is_due() {
    bool fired = false;
    for (auto& one : timers)
        if (one.due_ns != 0 && page()->boot_ns >= one.due_ns)
            one.due_ns = 0, fired = set_timer(one.fd, 1) == 0;
    return fired;
}

int really_wait(int fd, epoll_event* events, int most, int timeout_ms) {
    return static_cast<int>(syscall(SYS_epoll_pwait, fd, events, most, timeout_ms, nullptr, 8));
}

std::int64_t in_ns(timespec const& t) {
    return t.tv_sec * second_ns + t.tv_nsec;
}

// A wait with an end by a clock that stands: in small pieces, each of which looks like a spurious wake.
int wait_a_piece(pthread_cond_t* condition, pthread_mutex_t* mutex, clockid_t clock, timespec const* end) {
    auto const now = clock == CLOCK_REALTIME ? page()->wall_ns.load() : page()->boot_ns.load();
    if (now >= in_ns(*end)) return ETIMEDOUT;
    timespec real{};
    syscall(SYS_clock_gettime, CLOCK_MONOTONIC, &real);
    auto const until = in_ns(real) + look_again_ns;
    timespec const piece{until / second_ns, until % second_ns};
    static auto* const wait = next<decltype(pthread_cond_clockwait)>("pthread_cond_clockwait");
    int const how = wait(condition, mutex, CLOCK_MONOTONIC, &piece);
    return how == ETIMEDOUT ? 0 : how;
}

}  // namespace

extern "C" {

int clock_gettime(clockid_t clock, timespec* out) noexcept {
    std::int64_t now = 0;
    switch (clock) {
        case CLOCK_REALTIME:
        case CLOCK_REALTIME_COARSE:
            now = page()->wall_ns;
            break;
        case CLOCK_MONOTONIC:
        case CLOCK_MONOTONIC_COARSE:
        case CLOCK_MONOTONIC_RAW:
        case CLOCK_BOOTTIME:
            now = page()->boot_ns;
            break;
        default:
            return static_cast<int>(syscall(SYS_clock_gettime, clock, out));
    }
    *out = {now / second_ns, now % second_ns};
    return 0;
}

int gettimeofday(timeval* out, void*) noexcept {
    auto const now = page()->wall_ns.load();
    *out = {now / second_ns, now % second_ns / 1000};
    return 0;
}

time_t time(time_t* out) noexcept {
    auto const now = page()->wall_ns / second_ns;
    if (out) *out = now;
    return now;
}

int timerfd_settime(int fd, int flags, itimerspec const* value, itimerspec* old) noexcept {
    auto* const own = timer(fd);
    if (!own) return static_cast<int>(syscall(SYS_timerfd_settime, fd, flags, value, old));
    if (old) *old = {};
    auto const ns = in_ns(value->it_value);
    own->due_ns = ns == 0 ? 0 : (flags & TFD_TIMER_ABSTIME) != 0 ? ns : page()->boot_ns + ns;
    return set_timer(fd, 0);
}

// The kernel hands a line from one end of a terminal to the other in its own time.
ssize_t read(int fd, void* into, std::size_t most) {
    static auto* const real = next<decltype(read)>("read");
    return heard(fd, real(fd, into, most));
}

ssize_t readv(int fd, iovec const* into, int count) {
    static auto* const real = next<decltype(readv)>("readv");
    return heard(fd, real(fd, into, count));
}

// The first thread is the one that owns the core: when it has nothing left to do, a move is dealt with.
int epoll_wait(int fd, epoll_event* events, int most, int timeout_ms) {
    if (gettid() != getpid()) return really_wait(fd, events, most, timeout_ms);
    while (true) {
        auto const move = page()->moves.load();
        bool const fired = fire_what_is_due();
        int const ready = really_wait(fd, events, most, fired ? look_again_ms : 0);
        if (ready != 0 || timeout_ms == 0) return ready;
        page()->dealt_with = move;
        if (int const later = really_wait(fd, events, most, look_again_ms); later != 0) return later;
    }
}

int pthread_cond_clockwait(pthread_cond_t* condition, pthread_mutex_t* mutex, clockid_t clock,
                           timespec const* end) {
    return wait_a_piece(condition, mutex, clock, end);
}

int pthread_cond_timedwait(pthread_cond_t* condition, pthread_mutex_t* mutex, timespec const* end) {
    return wait_a_piece(condition, mutex, CLOCK_REALTIME, end);
}
}
