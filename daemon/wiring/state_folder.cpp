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

bool is_own_file(fs::path const& in_state) {
    for (auto const* name :
         {"ingled.sock", "ingled.lock", "logbook.path", "logbook.path.new", "notice.key", "page.token",
          "guest.key", "imported", "kitchen.accepted", "kitchen.accepted.new"})
        if (in_state == name) return true;
    return false;
}

fs::path logbook_path(fs::path const& state, std::string const& logbook) {
    return state / logbook;  // an absolute one replaces the folder
}

void make_logbook_folder(fs::path const& state, std::string const& logbook) {
    auto const folder = fs::path(logbook).parent_path();
    std::error_code ignored;
    if (folder.is_relative() && !folder.empty()) fs::create_directories(state / folder, ignored);
}

void keep_logbook_path(fs::path const& state, fs::path const& logbook) {
    std::error_code ignored;
    if (logbook == state / usual_logbook) {
        fs::remove(note_in(state), ignored);
        return;
    }
    // By another name first: what somebody put in its place (a link) is replaced, not written to.
    auto const fresh = note_in(state).string() + ".new";
    fs::remove(fresh, ignored);
    std::ofstream(fresh) << fs::absolute(logbook, ignored).string() << '\n';
    fs::rename(fresh, note_in(state), ignored);
}

fs::path accepted_kitchen_path(fs::path const& state) {
    return state / "kitchen.accepted";
}

bool names_a_logbook(fs::path const& state) {
    std::error_code unknown;
    return fs::exists(note_in(state), unknown);
}

fs::path kept_logbook_path(fs::path const& state) {
    std::ifstream note(note_in(state));
    std::string line;
    if (std::getline(note, line) && !line.empty()) return line;
    return state / usual_logbook;
}

}  // namespace ingle
