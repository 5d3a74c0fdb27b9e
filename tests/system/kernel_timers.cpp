// Preloaded before libfaketime: its version 0.9.10 moves absolute timers of the monotonic clock by the wall
// clock's offset even when it is told to leave that clock alone. This hands them to the kernel as they are.
#include <sys/syscall.h>
#include <sys/timerfd.h>
#include <unistd.h>

extern "C" int timerfd_settime(int fd, int flags, itimerspec const* value, itimerspec* old) noexcept {
    return static_cast<int>(syscall(SYS_timerfd_settime, fd, flags, value, old));
}
