// What the logbook no longer keeps: secrets of earlier versions, rows without end.
#include <filesystem>

#include "daemon/logbook/schema.hpp"
#include "daemon/logbook/seal.hpp"
#include "support.hpp"
#include "tests/support/catch.hpp"

using namespace ingle;
using namespace ingle::logbook;
using namespace ingle::logbook::testing;

TEST_CASE("secrets that an earlier version kept with the kitchen file are gone from the logbook's bytes") {
    Scratch dir;
    auto const path = dir / "old.db";
    {
        Database db;
        REQUIRE(db.open(path, SQLITE_OPEN_READWRITE | SQLITE_OPEN_CREATE));
        db.run(file_text(TEST_DATA "/unit/daemon/logbook/old/logbook-v1.sql").c_str());
        db.prepared("INSERT INTO setting VALUES(2,?)")
            .with(std::string("[kitchen]\nname = \"hall\"\n[serve]\ntoken = \"s3same-open\"\n") +
                  std::string(9000, '\n'))
            .run();
        REQUIRE(db.ok());
    }
    {
        Writer writer(options_for(path, "boot-of-today"), {});
        REQUIRE(writer.resume().recording);
    }
    CHECK(word(path, "SELECT substr(text, 1, 49) FROM setting WHERE id=2") ==
          "[kitchen]\nname = \"hall\"\n[serve]\ntoken = \"removed\"");
    for (auto const* beside : {"", "-wal", "-shm"}) {
        std::error_code error;
        auto const size = std::filesystem::file_size(path + beside, error);
        if (error || size == 0) continue;
        CHECK(file_text(path + beside).find("s3same") == std::string::npos);
    }
}

TEST_CASE("a program's arguments that version 4 kept are gone from the logbook") {
    Scratch dir;
    auto const path = dir / "old.db";
    {
        Database db;
        REQUIRE(db.open(path, SQLITE_OPEN_READWRITE | SQLITE_OPEN_CREATE));
        db.run(file_text(TEST_DATA "/unit/daemon/logbook/old/logbook-v4.sql").c_str());
        db.prepared("INSERT INTO setting VALUES(2,?)")
            .with(
                std::string("[[channel]]\nkind = \"command\"\ncommand = [\"/bin/send\", \"s3same-open\"]\n"))
            .run();
        REQUIRE(db.ok());
    }
    {
        Writer writer(options_for(path, "boot-of-today"), {});
        REQUIRE(writer.resume().recording);
    }
    CHECK(word(path, "SELECT text FROM setting WHERE id=2") ==
          "[[channel]]\nkind = \"command\"\ncommand = [\"/bin/send\", \"removed\"]\n");
}

TEST_CASE("what a failing probe or a dead channel can fill without end is bounded, notes are not") {
    Scratch dir;
    auto options = options_for(dir / "logbook.db");
    {
        Writer writer(options, {});
        REQUIRE(writer.resume().recording);
    }
    Database db;
    REQUIRE(db.open(options.path, SQLITE_OPEN_READWRITE));
    db.run(
        "INSERT INTO event SELECT 3000000 + s.i, 1, 1, CASE s.i % 2 WHEN 0 THEN 'note' ELSE 'dropout' END,"
        " 'kitchen', '', 'x', NULL FROM seq s;"
        "INSERT INTO event VALUES(5000000, 1, 1, 'dropout', 'kitchen', '', 'x', NULL);"
        "INSERT INTO rejected SELECT 1 + s.i, 1, 1, 1, 20.0, 'spike', 'x' FROM seq s;"
        "INSERT INTO rejected VALUES(500100, 1, 1, 1, 20.0, 'spike', 'x')");
    bound_tables(db);
    REQUIRE(db.ok());
    CHECK(db.number("SELECT count(*) FROM event WHERE id < 4000000 AND name='dropout'") == 0);
    CHECK(db.number("SELECT count(*) FROM event WHERE id BETWEEN 3000000 AND 4000000 AND name='note'") ==
          450);
    CHECK(db.number("SELECT min(id) FROM rejected") == 101);
}
