// The logbook and the two files beside it, as they lie in their folder: whether somebody else deleted,
// replaced, shortened or overwrote one of them under the open connection. Formats:
// sqlite.org/fileformat2.html, section 4, and sqlite.org/walformat.html.
#pragma once

#include <array>
#include <cstdint>
#include <string>

namespace ingle::logbook {

class SideFiles {
public:
    enum class Change { none, logbook_gone, logbook_shortened, beside_changed };

    void note(std::string const& path);  // as they are now, with the connection open
    Change look() const;                 // since then
    void remove_own() const;             // what lies beside the logbook, if it is what lay there then

private:
    struct Seen {
        std::uint64_t device = 0, inode = 0;
        std::int64_t size = -1;
        bool same_file(Seen const& other) const { return device == other.device && inode == other.inode; }
    };
    static Seen see(std::string const& path);
    std::string path_;
    Seen book_;
    mutable std::array<Seen, 2> beside_;  // -wal, -shm; made with the first write
};

// The first frame of the write-ahead file that is not what was written, among those that the logbook still
// needs; 0 = all are sound, or it cannot be told now (the index is being changed). Within a read transaction.
std::uint32_t first_damaged_frame(std::string const& path);

// Of a logbook that nobody here has open: the first frame that is not what was written, although a whole
// transaction and more was written after it, or although the index that a killed program left says that it
// was on disk; SQLite would pass over all of that in silence. 0 = none. What a kill or a power cut tears is
// the newest transaction, after which there is nothing of its round (its salt): damage there alone, without
// an index of that round, looks the same as one that was never finished, and cannot be told from it.
std::uint32_t damaged_before_it_is_opened(std::string const& path);

}  // namespace ingle::logbook
