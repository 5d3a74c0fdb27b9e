#include "daemon/wiring/state_folder.hpp"

#include <cstdlib>
#include <fstream>
#include <system_error>
#include <utility>

namespace ingle {
namespace {

namespace fs = std::filesystem;

constexpr char const* usual_logbook = "logbook.db";

fs::path note_in(fs::path const& state) {
    return state / "logbook.path";
}

}  // namespace

fs::path default_state_folder() {
    for (auto const& [name, below] : {std::pair{"INGLE_STATE", ""},
                                      {"STATE_DIRECTORY", ""},
                                      {"XDG_STATE_HOME", "ingle"},
                                      {"HOME", ".local/state/ingle"}})
        if (char const* value = std::getenv(name); value && *value)
            return *below ? fs::path(value) / below : fs::path(value);
    return "/var/lib/ingle";
}

fs::path logbook_path(fs::path const& state, std::string const& logbook) {
    return state / logbook;  // an absolute one replaces the folder
}

void keep_logbook_path(fs::path const& state, fs::path const& logbook) {
    std::error_code ignored;
    if (logbook == state / usual_logbook) {
        fs::remove(note_in(state), ignored);
        return;
    }
    std::ofstream(note_in(state)) << logbook.string() << '\n';
}

fs::path kept_logbook_path(fs::path const& state) {
    std::ifstream note(note_in(state));
    std::string line;
    if (std::getline(note, line) && !line.empty()) return line;
    return state / usual_logbook;
}

}  // namespace ingle
