#include "daemon/logbook/side_files.hpp"

#include <fcntl.h>
#include <sys/stat.h>
#include <unistd.h>

#include <algorithm>
#include <cstdio>
#include <cstring>
#include <optional>
#include <vector>

namespace ingle::logbook {
namespace {

constexpr std::array<char const*, 2> suffixes{"-wal", "-shm"};

class Opened {
public:
    explicit Opened(std::string const& path) : fd_(::open(path.c_str(), O_RDONLY | O_CLOEXEC | O_NOFOLLOW)) {}
    ~Opened() {
        if (fd_ >= 0) ::close(fd_);
    }
    Opened(Opened const&) = delete;
    Opened& operator=(Opened const&) = delete;
    bool read(void* to, std::size_t bytes, std::int64_t from) const {
        return fd_ >= 0 && pread(fd_, to, bytes, from) == static_cast<ssize_t>(bytes);
    }

private:
    int fd_;
};

// What the index says of the write-ahead file: the begin of its header, in the machine's own byte order.
struct Index {
    std::uint32_t version, unused, changes;
    std::uint8_t ready, big_endian_sums;
    std::uint16_t page_code;  // bytes; 1 = 65536
    std::uint32_t frames, pages;
    std::array<std::uint32_t, 2> sum, salt;  // of the last frame; as in the write-ahead file
    std::array<std::uint32_t, 2> own_sum;
};
static_assert(sizeof(Index) == 48);
constexpr std::int64_t backfilled_at = 2 * sizeof(Index);

struct FrameHead {
    std::uint32_t page, pages;
    std::array<std::uint32_t, 2> salt, sum;  // sum: big-endian, always
};
static_assert(sizeof(FrameHead) == 24);
constexpr std::int64_t wal_head = 32;
constexpr std::uint32_t wal_magic = 0x377f0682;  // and 1 more where the sums are of big-endian words
constexpr std::int64_t page_size_at = 16;        // in the logbook; big-endian, 1 = 65536

std::uint32_t swapped(std::uint32_t word) {
    return __builtin_bswap32(word);
}
std::uint32_t big_endian(std::uint32_t word) {
    return __BYTE_ORDER__ == __ORDER_LITTLE_ENDIAN__ ? swapped(word) : word;
}

class Sum {
public:
    explicit Sum(bool swap, std::array<std::uint32_t, 2> begin = {}) : swap_(swap), sum_(begin) {}
    void add(unsigned char const* bytes, std::size_t size) {
        for (std::size_t at = 0; at + 8 <= size; at += 8) {
            std::array<std::uint32_t, 2> words{};
            std::memcpy(words.data(), bytes + at, 8);
            sum_[0] += (swap_ ? swapped(words[0]) : words[0]) + sum_[1];
            sum_[1] += (swap_ ? swapped(words[1]) : words[1]) + sum_[0];
        }
    }
    bool is(std::array<std::uint32_t, 2> const& stored) const {
        return sum_[0] == big_endian(stored[0]) && sum_[1] == big_endian(stored[1]);
    }

private:
    bool swap_;
    std::array<std::uint32_t, 2> sum_;
};

// Both copies agree, and frames are waiting to be copied into the logbook.
std::optional<Index> index_in_use(std::string const& path) {
    Index index{}, second{};
    std::uint32_t backfilled = 0;
    Opened const shared(path + "-shm");
    if (!shared.read(&index, sizeof index, 0) || !shared.read(&second, sizeof second, sizeof index) ||
        !shared.read(&backfilled, sizeof backfilled, backfilled_at))
        return std::nullopt;
    bool const settled = std::memcmp(&index, &second, sizeof index) == 0 && index.ready;
    return settled && index.frames > backfilled ? std::optional(index) : std::nullopt;
}

// How many frames were on disk and not all copied into the logbook yet, by the index of the write-ahead file
// of this salt: SQLite writes it once they are synchronised. 0 where there is no index of it.
std::uint32_t frames_on_disk(std::string const& path, std::array<std::uint32_t, 2> const& salt) {
    auto const index = index_in_use(path);
    return index && index->salt == salt ? index->frames : 0;
}

}  // namespace

SideFiles::Seen SideFiles::see(std::string const& path) {
    struct stat s {};
    if (stat(path.c_str(), &s) != 0) return {};
    return {static_cast<std::uint64_t>(s.st_dev), static_cast<std::uint64_t>(s.st_ino),
            static_cast<std::int64_t>(s.st_size)};
}

void SideFiles::note(std::string const& path) {
    path_ = path;
    book_ = see(path);
    for (std::size_t i = 0; i < suffixes.size(); ++i) beside_[i] = see(path + suffixes[i]);
}

// The write-ahead file may be emptied by whoever copies it into the logbook; its index only grows.
SideFiles::Change SideFiles::look() const {
    auto const now = see(path_);
    if (book_.inode == 0) return Change::none;
    if (!now.same_file(book_)) return Change::logbook_gone;
    if (now.size < book_.size) return Change::logbook_shortened;
    for (std::size_t i = 0; i < suffixes.size(); ++i) {
        auto const beside = see(path_ + suffixes[i]);
        if (beside_[i].inode != 0 && !beside.same_file(beside_[i])) return Change::beside_changed;
        if (i == 1 && beside.size < beside_[i].size) return Change::beside_changed;
        if (beside_[i].inode == 0) beside_[i] = beside;
    }
    return Change::none;
}

void SideFiles::remove_own() const {
    for (std::size_t i = 0; i < suffixes.size(); ++i)
        if (auto const name = path_ + suffixes[i]; beside_[i].inode != 0 && see(name).same_file(beside_[i]))
            std::remove(name.c_str());
}

std::uint32_t first_damaged_frame(std::string const& path) {
    auto const used = index_in_use(path);
    if (!used) return 0;
    auto const& index = *used;
    std::size_t const page = index.page_code == 1 ? 65536 : index.page_code;
    if (page < 512) return 0;
    Opened const wal(path + "-wal");
    std::array<unsigned char, wal_head> head{};
    if (!wal.read(head.data(), head.size(), 0)) return 1;
    bool const native = index.big_endian_sums == (__BYTE_ORDER__ == __ORDER_BIG_ENDIAN__);
    Sum sum(!native);
    sum.add(head.data(), 24);
    std::array<std::uint32_t, 2> stored{};
    std::memcpy(stored.data(), head.data() + 24, sizeof stored);
    if (!sum.is(stored)) return 1;
    std::vector<unsigned char> frame(sizeof(FrameHead) + page);
    for (std::uint32_t n = 0; n < index.frames; ++n) {
        if (!wal.read(frame.data(), frame.size(), wal_head + static_cast<std::int64_t>(n * frame.size())))
            return n + 1;
        FrameHead of{};
        std::memcpy(&of, frame.data(), sizeof of);
        sum.add(frame.data(), 8);
        sum.add(frame.data() + sizeof of, page);
        if (of.salt != index.salt || !sum.is(of.sum)) return n + 1;
    }
    return 0;
}

std::uint32_t damaged_before_it_is_opened(std::string const& path) {
    Opened const wal(path + "-wal");
    std::array<std::uint32_t, wal_head / 4> head{};  // magic, format, page, round, salt (2), sum (2)
    if (!wal.read(head.data(), wal_head, 0)) return 0;
    std::array<unsigned char, 2> of_book{};
    Opened const book(path);
    std::size_t page = big_endian(head[2]);
    auto const magic = big_endian(head[0]);
    bool swap = ((magic & 1) != 0) != (__BYTE_ORDER__ == __ORDER_BIG_ENDIAN__);
    Sum of_head(swap);
    of_head.add(reinterpret_cast<unsigned char const*>(head.data()), 24);
    bool const head_is_sound = (magic & ~1U) == wal_magic && of_head.is({head[6], head[7]});
    if (!head_is_sound) {
        if (!book.read(of_book.data(), of_book.size(), page_size_at)) return 0;
        page = static_cast<std::size_t>(of_book[0] << 8 | of_book[1]);
        if (page == 1) page = 65536;
        swap = __BYTE_ORDER__ == __ORDER_BIG_ENDIAN__;  // as SQLite writes it nearly everywhere
    }
    if (page < 512 || page > 65536) return 0;
    std::vector<unsigned char> frame(sizeof(FrameHead) + page);
    std::array<std::uint32_t, 2> salt{head[4], head[5]}, before{head[6], head[7]};
    std::uint32_t first = head_is_sound ? 0 : 1;
    bool committed = false;  // since then: what follows was begun when that was on disk
    for (std::uint32_t n = 0;; ++n) {
        auto const from = wal_head + static_cast<std::int64_t>(n) * static_cast<std::int64_t>(frame.size());
        if (!wal.read(frame.data(), frame.size(), from)) {
            // Of a transaction that nothing follows, whether it was ever on disk is known by the index alone.
            auto const first_lost = first != 0 ? first : n + 1;
            return head_is_sound && first_lost <= frames_on_disk(path, salt) ? first_lost : 0;
        }
        FrameHead of{};
        std::memcpy(&of, frame.data(), sizeof of);
        if (n == 0 && !head_is_sound) salt = of.salt;
        Sum sum(swap, {big_endian(before[0]), big_endian(before[1])});
        sum.add(frame.data(), 8);
        sum.add(frame.data() + sizeof of, page);
        bool const sound = of.page != 0 && of.salt == salt && sum.is(of.sum);
        if (!sound && first == 0) first = n + 1;
        if (sound && committed) return first;
        if (first != 0 && of.salt == salt && of.pages != 0 && (sound || n + 1 == first)) committed = true;
        before = of.sum;
    }
}

}  // namespace ingle::logbook
