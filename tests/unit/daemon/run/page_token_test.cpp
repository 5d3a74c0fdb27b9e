// The page's own token: made once, kept, and never one that others may read.
#include "daemon/run/page_token.hpp"

#include <sys/stat.h>

#include <filesystem>
#include <fstream>

#include "tests/support/catch.hpp"

using namespace ingle;
namespace fs = std::filesystem;

namespace {

struct Folder {
    Folder() {
        std::string name = (fs::temp_directory_path() / "page-token-XXXXXX").string();
        path = mkdtemp(name.data());
    }
    ~Folder() { fs::remove_all(path); }
    Folder(Folder const&) = delete;
    Folder& operator=(Folder const&) = delete;
    std::string path;
};

}  // namespace

TEST_CASE("a kitchen file's own token stays, and beyond this machine none is made") {
    Folder const folder;
    ServeSettings serve;
    serve.token = "sesame";
    CHECK(page_token(serve, folder.path) == "sesame");
    serve.token.clear();
    serve.address = "0.0.0.0";
    CHECK(page_token(serve, folder.path).empty());
    CHECK(!fs::exists(folder.path + "/page.token"));
}

TEST_CASE("on loopback a token is made once, which only the daemon's user may read") {
    Folder const folder, other;
    ServeSettings const serve;
    auto const token = page_token(serve, folder.path);
    CHECK(token.size() == 24);
    CHECK(page_token(serve, folder.path) == token);
    CHECK(page_token(serve, other.path) != token);
    struct stat found {};
    REQUIRE(stat((folder.path + "/page.token").c_str(), &found) == 0);
    CHECK((found.st_mode & 0777) == 0600);
}

TEST_CASE("a token that others may read, half a token, a link and a folder that is not there give none") {
    Folder const folder;
    ServeSettings const serve;
    auto const file = folder.path + "/page.token";
    REQUIRE(page_token(serve, folder.path).size() == 24);
    REQUIRE(chmod(file.c_str(), 0644) == 0);
    CHECK(page_token(serve, folder.path).empty());
    fs::remove(file);
    std::ofstream(file) << "short";
    REQUIRE(chmod(file.c_str(), 0600) == 0);
    CHECK(page_token(serve, folder.path).empty());
    fs::remove(file);
    fs::create_symlink("/dev/zero", file);
    CHECK(page_token(serve, folder.path).empty());
    CHECK(page_token(serve, folder.path + "/absent").empty());
}
