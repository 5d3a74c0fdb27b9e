#include "drivers/api/secret.hpp"

#include <cstdlib>
#include <filesystem>
#include <fstream>

#include "tests/support/catch.hpp"

using namespace ingle;
namespace fs = std::filesystem;

namespace {

Secret from_file(std::string const& text, unsigned mode = 0600) {
    auto const file = fs::path(TEST_BUILD) / "unit_secret";
    fs::remove(file);
    std::ofstream(file) << text;
    fs::permissions(file, fs::perms(mode));
    return read_secret({file.string(), {}});
}

}  // namespace

TEST_CASE("a secret is the first line of a file that others cannot get at") {
    CHECK(from_file("sesame\n").text == "sesame");
    CHECK(from_file("sesame").text == "sesame");
    CHECK(from_file("sesame\r\nmore\n", 0640).text == "sesame");
    for (unsigned const mode : {0644U, 0604U, 0602U, 0601U, 0666U}) {
        auto const secret = from_file("sesame\n", mode);
        CHECK(secret.text.empty());
        CHECK(secret.wrong.starts_with("everybody on this machine can get at "));
    }
    CHECK(from_file("\n").wrong.ends_with("is empty"));
    CHECK(from_file("a\tb\n").wrong.ends_with("holds no secret of one line"));
    CHECK(from_file(std::string(5000, 'x')).wrong.ends_with("holds no secret of one line"));
    CHECK(read_secret({"/no/such", {}}).wrong == "there is no file /no/such");
    CHECK(read_secret({"/", {}}).wrong == "/ is no file that can be read");
}

TEST_CASE("a secret of the environment, and one that nobody named") {
    setenv("UNIT_SECRET", "sesame", 1);
    CHECK(read_secret({{}, "UNIT_SECRET"}).text == "sesame");
    setenv("UNIT_SECRET", "two\nlines", 1);
    CHECK(read_secret({{}, "UNIT_SECRET"}).text.empty());
    unsetenv("UNIT_SECRET");
    CHECK(read_secret({{}, "UNIT_SECRET"}).unknowable);
    CHECK_FALSE(read_secret({"/a", "B"}).wrong.empty());
    CHECK(read_secret({}).wrong.empty());
}
