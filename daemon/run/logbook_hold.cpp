#include "daemon/run/logbook_hold.hpp"

#include <fcntl.h>
#include <sys/file.h>
#include <unistd.h>

#include <cerrno>
#include <stdexcept>
#include <system_error>

namespace ingle {

namespace fs = std::filesystem;

std::shared_ptr<LogbookHold> LogbookHold::take(fs::path const& state, fs::path const& logbook) {
    std::error_code none;
    auto const file = fs::weakly_canonical(logbook, none), folder = fs::weakly_canonical(state, none);
    if (file.empty() || file.parent_path() == folder) return nullptr;
    int const lock = open((file.string() + ".lock").c_str(), O_RDWR | O_CREAT | O_CLOEXEC | O_NOFOLLOW, 0640);
    if (lock < 0) return nullptr;
    if (flock(lock, LOCK_EX | LOCK_NB) != 0 && errno == EWOULDBLOCK) {
        close(lock);
        throw std::runtime_error("another ingled writes to " + logbook.string() +
                                 "; stop it, or choose another logbook under [kitchen]");
    }
    return std::make_shared<LogbookHold>(lock);
}

LogbookHold::~LogbookHold() {
    close(lock_);
}

}  // namespace ingle
