// The write-ahead file as the last run left it: what a kill or a power cut tears is nothing; what was changed
// in the middle of it is damage, and is told.
#include <filesystem>
#include <fstream>

#include "daemon/logbook/side_files.hpp"
#include "support.hpp"
#include "tests/support/catch.hpp"
#include "told.hpp"

using namespace ingle;
using namespace ingle::logbook;
using namespace ingle::logbook::testing;

namespace {

constexpr std::int64_t head = 32, frame_head = 24;

// As a kill leaves them: nothing of the write-ahead file was put into the logbook.
std::string killed(Scratch const& dir, bool with_index = false) {
    auto const options = options_for(dir / "run.db");
    Writer writer(options, {});
    REQUIRE(writer.resume().recording);
    for (int i = 0; i < 20; ++i) {
        Memory memory;
        memory.put("dish.goose-roll.began", Instant(Span(1000 + i)));
        writer.remember(memory);
        writer.record(good(0, 2000 + 1000 * i, 85));
        REQUIRE(writer.flush(Span(5000)));
    }
    auto const copy = dir / "l.db";
    std::filesystem::copy_file(options.path, copy);
    std::filesystem::copy_file(options.path + "-wal", copy + "-wal");
    if (with_index) std::filesystem::copy_file(options.path + "-shm", copy + "-shm");
    return copy;
}

std::int64_t page_size_of(std::string const& wal) {
    auto const text = file_text(wal);
    return static_cast<unsigned char>(text[10]) << 8 | static_cast<unsigned char>(text[11]);
}

void change(std::string const& path, std::int64_t at) {
    std::fstream file(path, std::ios::binary | std::ios::in | std::ios::out);
    file.seekg(at);
    auto const byte = static_cast<char>(~file.get());
    file.seekp(at);
    file.put(byte);
}

Resumed next_run(std::string const& path, Told& told) {
    auto options = options_for(path);
    options.started = Instant(Span(100'000));
    Writer writer(options, told.callbacks());
    auto resumed = writer.resume();
    writer.record(good(0, 101'000, 85));
    REQUIRE(writer.flush(Span(5000)));
    return resumed;
}

}  // namespace

TEST_CASE("what a kill leaves, whole or torn in its newest transaction, is no damage") {
    Scratch dir;
    auto const path = killed(dir);
    auto const frame = frame_head + page_size_of(path + "-wal");
    auto const size = static_cast<std::int64_t>(std::filesystem::file_size(path + "-wal"));
    SECTION("whole") {}
    SECTION("its end is cut off") {
        auto const cut = GENERATE(1, 100, 5000);
        std::filesystem::resize_file(path + "-wal", static_cast<std::uintmax_t>(size - cut));
    }
    SECTION("its last page was not written") {
        change(path + "-wal", size - 10);
    }
    SECTION("the head of its last page was not written") {
        change(path + "-wal", size - frame + 17);
    }
    SECTION("it ends in an empty stretch") {
        std::filesystem::resize_file(path + "-wal", static_cast<std::uintmax_t>(size + 20'000));
    }
    CHECK(damaged_before_it_is_opened(path) == 0);
    Told told;
    auto const resumed = next_run(path, told);
    CHECK(told.count("logbook-damaged") == 0);
    CHECK(resumed.memory.instant("dish.goose-roll.began") >= Instant(Span(1015)));
}

TEST_CASE("rows of an earlier round behind those that wait are no damage") {
    Scratch dir;
    auto const options = options_for(dir / "l.db");
    Writer writer(options, {});
    REQUIRE(writer.resume().recording);
    for (int round = 0; round < 3; ++round) {
        for (int i = 0; i < 20 - 6 * round; ++i) {
            writer.record(good(0, 2000 + 100'000 * round + 1000 * i, 85));
            REQUIRE(writer.flush(Span(5000)));
            CHECK(damaged_before_it_is_opened(options.path) == 0);
        }
        number(options.path, "PRAGMA wal_checkpoint(RESTART)");
    }
}

TEST_CASE("one byte in the middle of the rows that wait is told, and both files are kept as they are") {
    Scratch dir;
    auto const path = killed(dir);
    auto const wal = path + "-wal";
    auto const at = GENERATE(3, 17, head + 2, head + 9, head + 17, head + frame_head + 100);
    change(wal, at);
    auto const book_before = file_text(path), wal_before = file_text(wal);
    CHECK(damaged_before_it_is_opened(path) == 1);
    Told told;
    auto const resumed = next_run(path, told);
    REQUIRE(told.count("logbook-damaged") == 1);
    CHECK_THAT(told.texts[0], INGLE_CONTAINS("is damaged from its page 1 on") &&
                                  INGLE_CONTAINS("is not known here; begin it again"));
    CHECK(resumed.recording);
    CHECK(file_text(path + ".damaged-1") == book_before);
    CHECK(file_text(path + ".damaged-1-wal") == wal_before);
    CHECK(word(path, "PRAGMA integrity_check") == "ok");
}

TEST_CASE("what was written before the damage is read out of it") {
    Scratch dir;
    auto const path = killed(dir);
    auto const wal = path + "-wal";
    auto const size = static_cast<std::int64_t>(std::filesystem::file_size(wal));
    change(wal, head + (size - head) * 3 / 4);
    CHECK(damaged_before_it_is_opened(path) > 1);
    Told told;
    auto const resumed = next_run(path, told);
    REQUIRE(told.count("logbook-damaged") == 1);
    CHECK_THAT(told.texts[0], INGLE_CONTAINS("was read out of it, perhaps as of earlier"));
    CHECK(resumed.memory.instant("dish.goose-roll.began") > Instant(Span(1000)));
}

TEST_CASE(
    "of the newest transaction it is known by the index whether it was whole: then its damage is told") {
    Scratch dir;
    auto const path = killed(dir, true);
    auto const size = static_cast<std::int64_t>(std::filesystem::file_size(path + "-wal"));
    SECTION("whole") {
        CHECK(damaged_before_it_is_opened(path) == 0);
        return;
    }
    SECTION("an index of another round says nothing") {
        change(path + "-wal", size - 10);
        for (std::int64_t const copy : {0, 48}) change(path + "-shm", copy + 32);
        CHECK(damaged_before_it_is_opened(path) == 0);
        return;
    }
    SECTION("a byte of its last page") {
        change(path + "-wal", size - 10);
    }
    SECTION("its end is cut off") {
        std::filesystem::resize_file(path + "-wal", static_cast<std::uintmax_t>(size - 100));
    }
    CHECK(damaged_before_it_is_opened(path) > 1);
    Told told;
    auto const resumed = next_run(path, told);
    CHECK(told.count("logbook-damaged") == 1);
    CHECK(resumed.recording);
}
