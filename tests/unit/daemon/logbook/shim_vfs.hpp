// A VFS between SQLite and the file system that counts, fails at the n-th call, or cuts the power: then every
// write since the last sync of its file survives, tears at a 512-byte sector, or vanishes. For tests and
// benches only.
#pragma once

#include <sqlite3.h>
#include <unistd.h>

#include <algorithm>
#include <atomic>
#include <chrono>
#include <cstring>
#include <filesystem>
#include <fstream>
#include <map>
#include <mutex>
#include <new>
#include <random>
#include <set>
#include <string>
#include <thread>
#include <vector>

namespace ingle::logbook::testing {

class ShimVfs {
public:
    struct Count {
        std::int64_t calls = 0, writes = 0, bytes = 0, syncs = 0;
        std::int64_t blocks =
            0;  // 4 KiB blocks dirtied between syncs, each once: what a page cache sends to the disk
    };
    enum class Fault { none, io_error, full, read_only, busy };  // busy: another program's lock

    explicit ShimVfs(std::string name) : name_(std::move(name)), real_(sqlite3_vfs_find(nullptr)) {
        vfs_ = *real_;
        vfs_.zName = name_.c_str();
        vfs_.szOsFile = static_cast<int>(sizeof(File)) + real_->szOsFile;
        vfs_.pAppData = this;
        vfs_.pNext = nullptr;
        vfs_.xOpen = &open;
        vfs_.xSleep = [](sqlite3_vfs* v, int us) {
            std::unique_lock lock(self(v).mutex_);
            if (self(v).fault_ == Fault::busy) return 0;  // it stays busy however long one waits
            lock.unlock();
            return self(v).real_->xSleep(self(v).real_, us);
        };
        vfs_.xDelete = &remove;
        vfs_.xAccess = [](sqlite3_vfs* v, char const* n, int f, int* o) {
            return self(v).real_->xAccess(self(v).real_, n, f, o);
        };
        vfs_.xFullPathname = [](sqlite3_vfs* v, char const* n, int s, char* o) {
            return self(v).real_->xFullPathname(self(v).real_, n, s, o);
        };
        sqlite3_vfs_register(&vfs_, 0);
    }
    ~ShimVfs() { sqlite3_vfs_unregister(&vfs_); }
    ShimVfs(ShimVfs const&) = delete;
    ShimVfs& operator=(ShimVfs const&) = delete;

    std::string const& name() const { return name_; }
    Count count() const {
        std::lock_guard const lock(mutex_);
        return count_;
    }
    // The n-th call from now (1 = the next) fails, and `times` - 1 after it; 0 = never. Only what writes
    // fails on a full or read-only disk, and only the locking is busy.
    void fail(Fault fault, std::int64_t nth, std::int64_t times = 1) {
        std::lock_guard const lock(mutex_);
        fault_ = fault, fail_from_ = nth == 0 ? INT64_MAX : count_.calls + nth;
        fail_to_ = nth == 0 ? INT64_MAX : times > INT32_MAX ? INT64_MAX : fail_from_ + times;
        failed_ = 0;
    }
    std::int64_t failed() const {  // calls that were made to fail
        std::lock_guard const lock(mutex_);
        return failed_;
    }
    void slow_syncs(std::chrono::milliseconds each) { slowness_ = each; }  // a card that is worn or cheap
    void no_temporary_files() { temporary_ = false; }                      // as if /tmp were full
    void keep_images() { images_wanted_ = true; }  // before any file is opened: needed for power_cut
    void make_default() { sqlite3_vfs_register(&vfs_, 1); }  // for every connection that names no other
    // The n-th write from now (1 = the next) is the first that is not done, nor is any call after it.
    void cut_power_at(std::int64_t nth_write) {
        std::lock_guard const lock(mutex_);
        cut_at_ = count_.writes + nth_write;
    }
    // Instead of failing call after call the process can end there and then, as under a real cut: `directory`
    // gets what the disk holds, and the process is gone.
    void die_at_the_cut(std::string directory, unsigned seed) { grave_ = std::move(directory), seed_ = seed; }
    bool is_cut() const {
        std::lock_guard const lock(mutex_);
        return cut_;
    }
    void cut_now() {
        std::lock_guard const lock(mutex_);
        cut_ = true;
    }
    // What the disk holds after the cut, written to `directory` under the same file names.
    void materialise(std::string const& directory, unsigned seed) {
        std::lock_guard const lock(mutex_);
        write_survivors(directory, seed);
    }

private:
    void write_survivors(std::string const& directory, unsigned seed) const {
        std::mt19937 random(seed);
        for (auto const& [path, image] : images_) {
            if (image.deleted || path.ends_with("-shm")) continue;
            auto bytes = image.durable;
            for (auto const& op : image.pending) {
                auto const fate = random() % 3;
                if (fate == 0) continue;
                if (op.truncate) {
                    bytes.resize(static_cast<std::size_t>(op.offset));
                    continue;
                }
                for (std::size_t i = 0; i < op.data.size();) {
                    auto const at = static_cast<std::size_t>(op.offset) + i;
                    auto const n = std::min(op.data.size() - i, 512 - at % 512);
                    if (fate == 1 || random() % 2 == 0) put(bytes, at, op.data.data() + i, n);
                    i += n;
                }
            }
            std::ofstream out(directory + "/" + std::filesystem::path(path).filename().string(),
                              std::ios::binary);
            out.write(bytes.data(), static_cast<std::streamsize>(bytes.size()));
        }
    }

    struct Op {
        std::int64_t offset = 0;
        std::string data;
        bool truncate = false;
    };
    struct Image {
        std::string durable;
        std::vector<Op> pending;
        std::set<std::int64_t> dirty;
        bool deleted = false;
    };
    struct File {
        sqlite3_file base;
        ShimVfs* shim;
        Image* image;
        sqlite3_file* real() { return reinterpret_cast<sqlite3_file*>(this + 1); }
    };
    static ShimVfs& self(sqlite3_vfs* v) { return *static_cast<ShimVfs*>(v->pAppData); }
    static File& file(sqlite3_file* f) { return *reinterpret_cast<File*>(f); }

    static void put(std::string& bytes, std::size_t at, char const* data, std::size_t n) {
        if (bytes.size() < at + n) bytes.resize(at + n, '\0');
        std::memcpy(bytes.data() + at, data, n);
    }

    // With the lock. What this call must answer; 0 = go on.
    int verdict(bool writes, bool opens = false) {
        if (fault_ != Fault::busy) ++count_.calls;
        if (writes && ++count_.writes >= cut_at_) cut_ = true;
        if (cut_ && !grave_.empty()) {
            write_survivors(grave_, seed_);
            _exit(0);
        }
        if (cut_) return SQLITE_IOERR;
        if (fault_ == Fault::busy || count_.calls < fail_from_ || count_.calls >= fail_to_) return 0;
        if (fault_ == Fault::io_error) return ++failed_, opens ? SQLITE_CANTOPEN : SQLITE_IOERR;
        if (!writes) return 0;
        if (fault_ == Fault::full) return ++failed_, SQLITE_FULL;
        if (fault_ == Fault::read_only) return ++failed_, SQLITE_READONLY;
        return 0;
    }

    static int lock_verdict(ShimVfs& shim) {
        std::lock_guard const lock(shim.mutex_);
        if (shim.cut_) return SQLITE_IOERR;
        if (shim.fault_ != Fault::busy) return 0;
        ++shim.count_.calls;
        if (shim.count_.calls < shim.fail_from_ || shim.count_.calls >= shim.fail_to_) return 0;
        return ++shim.failed_, SQLITE_BUSY;
    }

    static int open(sqlite3_vfs* v, sqlite3_filename name, sqlite3_file* f, int flags, int* out) {
        auto& shim = self(v);
        f->pMethods = nullptr;
        std::lock_guard const lock(shim.mutex_);
        if (int const bad = shim.verdict(false, true)) return bad;
        constexpr int temporary = SQLITE_OPEN_TEMP_DB | SQLITE_OPEN_TEMP_JOURNAL | SQLITE_OPEN_TRANSIENT_DB |
                                  SQLITE_OPEN_SUBJOURNAL;
        if (!shim.temporary_ && (flags & temporary)) return ++shim.failed_, SQLITE_CANTOPEN;
        auto* made = new (f) File{{nullptr}, &shim, nullptr};
        int const result = shim.real_->xOpen(shim.real_, name, made->real(), flags, out);
        if (result != SQLITE_OK) return result;
        made->image = &shim.images_[name ? name : ""];
        if (made->image->deleted) *made->image = {};
        if (shim.images_wanted_ && made->image->durable.empty() && made->image->pending.empty()) {
            std::ifstream in(name ? name : "", std::ios::binary);
            made->image->durable.assign(std::istreambuf_iterator<char>(in), {});
        }
        made->base.pMethods = &methods();
        return SQLITE_OK;
    }
    static int remove(sqlite3_vfs* v, char const* name, int sync) {
        auto& shim = self(v);
        std::lock_guard const lock(shim.mutex_);
        if (int const bad = shim.verdict(true)) return bad;
        if (auto const found = shim.images_.find(name); found != shim.images_.end())
            found->second.deleted = true;
        return shim.real_->xDelete(shim.real_, name, sync);
    }
    static int write(sqlite3_file* f, void const* data, int n, sqlite3_int64 at) {
        auto& shim = *file(f).shim;
        std::lock_guard const lock(shim.mutex_);
        if (int const bad = shim.verdict(true)) return bad;
        shim.count_.bytes += n;
        auto& image = *file(f).image;
        for (auto block = at / 4096; block <= (at + n - 1) / 4096; ++block) image.dirty.insert(block);
        if (shim.images_wanted_)
            image.pending.push_back(
                {at, std::string(static_cast<char const*>(data), static_cast<std::size_t>(n)), false});
        return file(f).real()->pMethods->xWrite(file(f).real(), data, n, at);
    }
    static int truncate(sqlite3_file* f, sqlite3_int64 size) {
        auto& shim = *file(f).shim;
        std::lock_guard const lock(shim.mutex_);
        if (int const bad = shim.verdict(true)) return bad;
        if (shim.images_wanted_) file(f).image->pending.push_back({size, {}, true});
        return file(f).real()->pMethods->xTruncate(file(f).real(), size);
    }
    static int sync(sqlite3_file* f, int flags) {
        auto& shim = *file(f).shim;
        std::this_thread::sleep_for(shim.slowness_.load());
        std::lock_guard const lock(shim.mutex_);
        if (int const bad = shim.verdict(true)) return bad;
        ++shim.count_.syncs;
        auto& image = *file(f).image;
        shim.count_.blocks += static_cast<std::int64_t>(image.dirty.size());
        image.dirty.clear();
        for (auto const& op : image.pending)
            if (op.truncate)
                image.durable.resize(static_cast<std::size_t>(op.offset));
            else
                put(image.durable, static_cast<std::size_t>(op.offset), op.data.data(), op.data.size());
        image.pending.clear();
        // The model decides what is durable; the real disk need not be waited for.
        return shim.real_sync_ ? file(f).real()->pMethods->xSync(file(f).real(), flags) : SQLITE_OK;
    }
    static int read(sqlite3_file* f, void* data, int n, sqlite3_int64 at) {
        auto& shim = *file(f).shim;
        {
            std::lock_guard const lock(shim.mutex_);
            if (int const bad = shim.verdict(false)) return bad;
        }
        return file(f).real()->pMethods->xRead(file(f).real(), data, n, at);
    }
    static int shm_map(sqlite3_file* f, int page, int size, int extend, void volatile** out) {
        auto& shim = *file(f).shim;
        {
            std::lock_guard const lock(shim.mutex_);
            if (int const bad = shim.verdict(false)) return bad;
        }
        return file(f).real()->pMethods->xShmMap(file(f).real(), page, size, extend, out);
    }

    static sqlite3_io_methods const& methods() {
        static sqlite3_io_methods const all = [] {
            sqlite3_io_methods m{};
            m.iVersion = 2;
            m.xClose = [](sqlite3_file* f) {
                int const result = file(f).real()->pMethods->xClose(file(f).real());
                f->pMethods = nullptr;
                return result;
            };
            m.xRead = &read;
            m.xWrite = &write;
            m.xTruncate = &truncate;
            m.xSync = &sync;
            m.xFileSize = [](sqlite3_file* f, sqlite3_int64* n) {
                return file(f).real()->pMethods->xFileSize(file(f).real(), n);
            };
            m.xLock = [](sqlite3_file* f, int l) {
                if (int const bad = lock_verdict(*file(f).shim)) return bad;
                return file(f).real()->pMethods->xLock(file(f).real(), l);
            };
            m.xUnlock = [](sqlite3_file* f, int l) {
                return file(f).real()->pMethods->xUnlock(file(f).real(), l);
            };
            m.xCheckReservedLock = [](sqlite3_file* f, int* o) {
                return file(f).real()->pMethods->xCheckReservedLock(file(f).real(), o);
            };
            m.xFileControl = [](sqlite3_file* f, int op, void* a) {
                return file(f).real()->pMethods->xFileControl(file(f).real(), op, a);
            };
            m.xSectorSize = [](sqlite3_file* f) {
                return file(f).real()->pMethods->xSectorSize(file(f).real());
            };
            m.xDeviceCharacteristics = [](sqlite3_file* f) {
                return file(f).real()->pMethods->xDeviceCharacteristics(file(f).real());
            };
            m.xShmMap = &shm_map;
            m.xShmLock = [](sqlite3_file* f, int o, int n, int fl) {
                // Releasing cannot be busy, and a reader shares.
                if ((fl & SQLITE_SHM_LOCK) && (fl & SQLITE_SHM_EXCLUSIVE))
                    if (int const bad = lock_verdict(*file(f).shim)) return bad;
                return file(f).real()->pMethods->xShmLock(file(f).real(), o, n, fl);
            };
            m.xShmBarrier = [](sqlite3_file* f) { file(f).real()->pMethods->xShmBarrier(file(f).real()); };
            m.xShmUnmap = [](sqlite3_file* f, int d) {
                return file(f).real()->pMethods->xShmUnmap(file(f).real(), d);
            };
            return m;
        }();
        return all;
    }

public:
    void sync_for_real() { real_sync_ = true; }

private:
    std::string name_;
    sqlite3_vfs* real_;
    sqlite3_vfs vfs_{};
    mutable std::mutex mutex_;
    Count count_;
    Fault fault_ = Fault::none;
    std::int64_t fail_from_ = INT64_MAX, fail_to_ = INT64_MAX, failed_ = 0, cut_at_ = INT64_MAX;
    bool cut_ = false, images_wanted_ = false, real_sync_ = false, temporary_ = true;
    std::map<std::string, Image> images_;
    std::string grave_;
    std::atomic<std::chrono::milliseconds> slowness_{std::chrono::milliseconds(0)};
    unsigned seed_ = 0;
};

}  // namespace ingle::logbook::testing
