// Keeps the store writing: opens it, tries again, moves damage aside, tells trouble once and its end once.
// Writer's thread only (bytes() may be asked from anywhere).
#pragma once

#include <atomic>
#include <chrono>
#include <optional>
#include <string>
#include <utility>

#include "daemon/logbook/logbook.hpp"
#include "daemon/logbook/salvage.hpp"
#include "daemon/logbook/side_files.hpp"
#include "daemon/logbook/store.hpp"

namespace ingle::logbook {

class Keeper {
public:
    using Steady = std::chrono::steady_clock;
    Keeper(WriterOptions const& options, Callbacks const& callbacks);

    Resumed start();
    bool write(Batch& batch, Instant at);  // true: all of it is on disk
    // What the last run left, where start() could not read it: once, after the write that opened the file.
    std::optional<Resumed> take_late() { return std::exchange(late_, std::nullopt); }
    void tidy(std::int64_t newest, Instant at);  // sealing and the checks of each minute
    void finish(Instant at);

    bool must_wait() const { return failing_; }
    Steady::time_point next_try() const { return next_try_; }
    std::optional<Trouble> const& trouble() const { return trouble_; }
    bool was_in_trouble() const { return trouble_.has_value(); }
    void recovered(Recovered recovered, Instant at);
    std::int64_t bytes() const { return bytes_; }

private:
    bool open(Resumed& resumed, Instant at);
    void failed(Failure const& failure, Instant at);
    void tell(std::string text, Instant at);
    void rescue(std::string const& what, Instant at, Resumed& resumed);
    void look_at_files(Instant at);  // closes the store where it must be opened anew
    void save_lost_file();
    void empty_side_files();
    void check_shortened(Instant at);
    void check_waiting_rows(Instant at);
    void say(std::string const& name, std::string const& text);
    void log(std::string const& line);
    void look_around();

    WriterOptions const& options_;
    Callbacks const& callbacks_;
    Store store_;
    bool failing_ = false, checked_ = false, state_read_ = false;
    std::optional<Resumed> late_;
    Steady::time_point next_try_{}, next_look_{}, next_seal_{}, last_log_{};
    std::size_t unlogged_ = 0;
    std::optional<Instant> busy_since_;
    std::optional<Trouble> trouble_;
    std::string last_failure_, last_event_;
    std::atomic<std::int64_t> bytes_{0};
    SideFiles files_;
    std::uint64_t pages_missed_ = 0;
    std::optional<Salvage> written_before_;  // of the file in whose place another one is
    Steady::time_point next_check_{};
    bool large_wal_told_ = false, low_space_told_ = false;
};

}  // namespace ingle::logbook
