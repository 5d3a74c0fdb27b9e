// A pseudo-terminal whose other end the test plays: the device. One thread.
#pragma once

#include <fcntl.h>
#include <stdlib.h>
#include <termios.h>
#include <unistd.h>

#include <cstdlib>
#include <filesystem>
#include <stdexcept>
#include <string>
#include <string_view>

namespace ingle::test {

class Pty {
public:
    Pty() : master_(::posix_openpt(O_RDWR | O_NOCTTY | O_CLOEXEC | O_NONBLOCK)) {
        char name[128];
        if (master_ < 0 || ::grantpt(master_) != 0 || ::unlockpt(master_) != 0 ||
            ::ptsname_r(master_, name, sizeof name) != 0)
            throw std::runtime_error("no pseudo-terminal");
        path_ = name;
    }
    Pty(Pty const&) = delete;
    ~Pty() { unplug(); }

    std::string const& path() const { return path_; }
    int fd() const { return master_; }
    void send(std::string_view bytes) {
        while (!bytes.empty()) {
            auto const done = ::write(master_, bytes.data(), bytes.size());
            if (done <= 0) return;  // full: nobody reads
            bytes.remove_prefix(static_cast<std::size_t>(done));
        }
    }
    std::string take() {  // what the other side has written
        char buffer[512];
        auto const count = ::read(master_, buffer, sizeof buffer);
        return count > 0 ? std::string(buffer, static_cast<std::size_t>(count)) : std::string();
    }
    void unplug() {
        if (master_ >= 0) ::close(master_);
        master_ = -1;
    }

private:
    int master_;
    std::string path_;
};

class TempFolder {
public:
    TempFolder() {
        char name[] = "/tmp/ingle-test-XXXXXX";
        if (!::mkdtemp(name)) throw std::runtime_error("no temporary folder");
        path_ = name;
    }
    TempFolder(TempFolder const&) = delete;
    ~TempFolder() {
        std::error_code ignored;
        std::filesystem::remove_all(path_, ignored);
    }
    std::string operator/(std::string const& name) const { return path_ + "/" + name; }
    std::string const& path() const { return path_; }

private:
    std::string path_;
};

// Points `link` to `target`, replacing what was there.
inline void relink(std::string const& target, std::string const& link) {
    std::error_code ignored;
    std::filesystem::remove(link, ignored);
    std::filesystem::create_symlink(target, link);
}

}  // namespace ingle::test
