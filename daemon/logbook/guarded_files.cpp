#include "daemon/logbook/guarded_files.hpp"

#include <sqlite3.h>
#include <sys/mman.h>
#include <unistd.h>

#include <algorithm>
#include <array>
#include <atomic>
#include <cerrno>
#include <csignal>
#include <mutex>
#include <new>

namespace ingle::logbook {
namespace {

constexpr std::size_t most_regions = 256;  // of 32 KiB each: a write-ahead file of 4 GB

// What the handler may look at; a signal has no argument of ours.
struct Mapped {
    std::array<std::atomic<std::uintptr_t>, most_regions> from{};
    std::atomic<std::uintptr_t> size{0};
    std::atomic<std::uint64_t> missed{0};
    std::atomic<std::size_t> next{0};
    struct sigaction before {};
    std::uintptr_t page = 4096;

    std::mutex mutex;
    int users = 0;                   // connections that have the index mapped
    std::uint64_t users_missed = 0;  // `missed` when the first of them mapped it
};
Mapped mapped;

void on_bus_error(int, siginfo_t* info, void*) {
    int const error = errno;
    auto const at = reinterpret_cast<std::uintptr_t>(info->si_addr);
    auto const size = mapped.size.load();
    bool const ours = std::any_of(mapped.from.begin(), mapped.from.end(), [&](auto const& region) {
        auto const from = region.load();
        return from != 0 && at >= from && at - from < size;
    });
    void* const page = static_cast<char*>(info->si_addr) - (at & (mapped.page - 1));
    if (ours && mmap(page, mapped.page, PROT_READ | PROT_WRITE, MAP_PRIVATE | MAP_ANONYMOUS | MAP_FIXED, -1,
                     0) == page)
        ++mapped.missed;
    else
        sigaction(SIGBUS, &mapped.before, nullptr);  // it is met again, and is somebody else's
    errno = error;
}

void remember_region(std::uintptr_t from, std::uintptr_t size) {
    mapped.size = std::max(mapped.size.load(), size);
    for (auto const& region : mapped.from)
        if (region == from) return;
    mapped.from[mapped.next++ % most_regions] = from;
}

struct File {
    sqlite3_file base;
    std::uint64_t missed;  // as of its opening: what was missed later may have been read by it
    std::uint64_t maps;

    sqlite3_file* real() { return reinterpret_cast<sqlite3_file*>(this + 1); }
    sqlite3_io_methods const& way() { return *real()->pMethods; }
    bool sound() const { return missed == mapped.missed.load(); }
};
File& guarded(sqlite3_file* file) {
    return *reinterpret_cast<File*>(file);
}

void stop_mapping(File& file) {
    std::lock_guard const lock(mapped.mutex);
    if (file.maps) --mapped.users;
    file.maps = 0;
}

int close(sqlite3_file* file) {
    auto& self = guarded(file);
    stop_mapping(self);
    return self.way().xClose(self.real());
}
int read(sqlite3_file* file, void* to, int bytes, sqlite3_int64 from) {
    auto& self = guarded(file);
    return self.sound() ? self.way().xRead(self.real(), to, bytes, from) : SQLITE_IOERR_SHMMAP;
}
int write(sqlite3_file* file, void const* what, int bytes, sqlite3_int64 to) {
    auto& self = guarded(file);
    return self.sound() ? self.way().xWrite(self.real(), what, bytes, to) : SQLITE_IOERR_SHMMAP;
}
int truncate(sqlite3_file* file, sqlite3_int64 size) {
    auto& self = guarded(file);
    return self.sound() ? self.way().xTruncate(self.real(), size) : SQLITE_IOERR_SHMMAP;
}
// The pages of one process must not be mixed with those of the file: the connections from before have to go
// first.
int map(sqlite3_file* file, int region, int size, int extend, void volatile** at) {
    auto& self = guarded(file);
    if (!self.sound()) return SQLITE_IOERR_SHMMAP;
    if (!self.maps) {
        std::lock_guard const lock(mapped.mutex);
        if (mapped.users == 0) mapped.users_missed = mapped.missed;
        if (mapped.users_missed != mapped.missed.load()) return SQLITE_BUSY;
        ++mapped.users;
        self.maps = 1;
    }
    int const result = self.way().xShmMap(self.real(), region, size, extend, at);
    if (result == SQLITE_OK && *at)
        remember_region(reinterpret_cast<std::uintptr_t>(*at), static_cast<std::uintptr_t>(size));
    return result;
}
int unmap(sqlite3_file* file, int remove) {
    auto& self = guarded(file);
    stop_mapping(self);
    return self.way().xShmUnmap(self.real(), remove);
}

sqlite3_io_methods make_methods() {
    sqlite3_io_methods m{};
    m.iVersion = 2;  // the file itself is never mapped
    m.xClose = &close, m.xRead = &read, m.xWrite = &write, m.xTruncate = &truncate, m.xShmMap = &map,
    m.xShmUnmap = &unmap;
    m.xSync = [](sqlite3_file* f, int flags) { return guarded(f).way().xSync(guarded(f).real(), flags); };
    m.xFileSize = [](sqlite3_file* f, sqlite3_int64* s) {
        return guarded(f).way().xFileSize(guarded(f).real(), s);
    };
    m.xLock = [](sqlite3_file* f, int level) { return guarded(f).way().xLock(guarded(f).real(), level); };
    m.xUnlock = [](sqlite3_file* f, int level) { return guarded(f).way().xUnlock(guarded(f).real(), level); };
    m.xCheckReservedLock = [](sqlite3_file* f, int* o) {
        return guarded(f).way().xCheckReservedLock(guarded(f).real(), o);
    };
    m.xFileControl = [](sqlite3_file* f, int op, void* a) {
        return guarded(f).way().xFileControl(guarded(f).real(), op, a);
    };
    m.xSectorSize = [](sqlite3_file* f) { return guarded(f).way().xSectorSize(guarded(f).real()); };
    m.xDeviceCharacteristics = [](sqlite3_file* f) {
        return guarded(f).way().xDeviceCharacteristics(guarded(f).real());
    };
    m.xShmLock = [](sqlite3_file* f, int at, int n, int flags) {
        return guarded(f).way().xShmLock(guarded(f).real(), at, n, flags);
    };
    m.xShmBarrier = [](sqlite3_file* f) { guarded(f).way().xShmBarrier(guarded(f).real()); };
    return m;
}

sqlite3_vfs& below(sqlite3_vfs* vfs) {
    return *static_cast<sqlite3_vfs*>(vfs->pAppData);
}

int open(sqlite3_vfs* vfs, char const* name, sqlite3_file* file, int flags, int* out) {
    static const sqlite3_io_methods methods = make_methods();
    auto* const self = new (file) File{{nullptr}, mapped.missed.load(), 0};
    self->real()->pMethods = nullptr;
    int const result = below(vfs).xOpen(&below(vfs), name, self->real(), flags, out);
    if (self->real()->pMethods) self->base.pMethods = &methods;
    return result;
}

}  // namespace

char const* guarded_files() {
    static const sqlite3_vfs made = [] {
        auto* const real = sqlite3_vfs_find(nullptr);
        sqlite3_vfs vfs = *real;
        vfs.zName = "ingle";
        vfs.pNext = nullptr;
        vfs.pAppData = real;
        vfs.szOsFile = static_cast<int>(sizeof(File)) + real->szOsFile;
        vfs.xOpen = &open;
        vfs.xDelete = [](sqlite3_vfs* v, char const* name, int sync) {
            return below(v).xDelete(&below(v), name, sync);
        };
        vfs.xAccess = [](sqlite3_vfs* v, char const* name, int flags, int* out) {
            return below(v).xAccess(&below(v), name, flags, out);
        };
        vfs.xFullPathname = [](sqlite3_vfs* v, char const* name, int size, char* out) {
            return below(v).xFullPathname(&below(v), name, size, out);
        };
        vfs.xSleep = [](sqlite3_vfs* v, int microseconds) {
            return below(v).xSleep(&below(v), microseconds);
        };
        mapped.page = static_cast<std::uintptr_t>(sysconf(_SC_PAGESIZE));
        struct sigaction action {};
        action.sa_sigaction = &on_bus_error;
        action.sa_flags = SA_SIGINFO | SA_NODEFER;
        sigaction(SIGBUS, &action, &mapped.before);
        return vfs;
    }();
    static const int registered = sqlite3_vfs_register(const_cast<sqlite3_vfs*>(&made), 0);
    return registered == SQLITE_OK ? made.zName : nullptr;
}

std::uint64_t pages_missed() {
    return mapped.missed;
}

}  // namespace ingle::logbook
