// Whose daemon is asked where nobody names a state folder.
#include <unistd.h>

#include <cstdlib>
#include <filesystem>
#include <fstream>
#include <string>
#include <vector>

#include "tests/support/catch.hpp"
#include "tools/cli/program/state_to_ask.hpp"

namespace fs = std::filesystem;

namespace {

// The environment of a user whose home is an empty folder; as it was before when it goes.
class Home {
public:
    Home() {
        fs::create_directories(folder_);
        for (auto const* name : names_) {
            char const* value = std::getenv(name);
            before_.push_back(value ? value : "");
            unsetenv(name);
        }
        setenv("HOME", folder_.c_str(), 1);
    }
    Home(Home const&) = delete;
    Home& operator=(Home const&) = delete;
    ~Home() {
        for (std::size_t i = 0; i < before_.size(); ++i) {
            if (before_[i].empty())
                unsetenv(names_[i]);
            else
                setenv(names_[i], before_[i].c_str(), 1);
        }
        std::error_code ignored;
        fs::remove_all(folder_, ignored);
    }
    fs::path own() const { return folder_ / ".local/state/ingle"; }
    fs::path service() const { return folder_ / "service"; }
    static void use(fs::path const& folder) {
        fs::create_directories(folder);
        std::ofstream(folder / "logbook.db") << "rows";
    }

private:
    static constexpr char const* names_[] = {"INGLE_STATE", "STATE_DIRECTORY", "XDG_STATE_HOME", "HOME"};
    fs::path folder_ = fs::temp_directory_path() / ("ingle-home-" + std::to_string(getpid()));
    std::vector<std::string> before_;
};

}  // namespace

TEST_CASE("the service is asked unless the user has a daemon of his own or names one") {
    Home const home;
    using ingle::cli::state_to_ask;
    CHECK(state_to_ask(home.service()) == home.own());
    Home::use(home.service());
    CHECK(state_to_ask(home.service()) == home.service());
    setenv("INGLE_STATE", "/elsewhere", 1);
    CHECK(state_to_ask(home.service()) == "/elsewhere");
    unsetenv("INGLE_STATE");
    Home::use(home.own());
    CHECK(state_to_ask(home.service()) == home.own());
}
