// A logbook outside of the state folder is for one daemon alone, as the folder is: two would delete what the
// other remembers.
#pragma once

#include <filesystem>
#include <memory>

namespace ingle {

class LogbookHold {
public:
    // Holds the file LOGBOOK.lock; nothing where the logbook lies in the state folder, or where no such file
    // can be made. Throws std::runtime_error with a sentence where another daemon holds it.
    static std::shared_ptr<LogbookHold> take(std::filesystem::path const& state,
                                             std::filesystem::path const& logbook);
    explicit LogbookHold(int lock) : lock_(lock) {}
    ~LogbookHold();
    LogbookHold(LogbookHold const&) = delete;
    LogbookHold& operator=(LogbookHold const&) = delete;

private:
    int lock_;  // a descriptor
};

}  // namespace ingle
