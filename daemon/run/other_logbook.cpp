#include "daemon/run/other_logbook.hpp"

#include <system_error>

#include "daemon/wiring/state_folder.hpp"

namespace ingle {

namespace fs = std::filesystem;

bool same_logbook(fs::path const& a, fs::path const& b) {
    std::error_code unknown;
    return a == b || fs::equivalent(a, b, unknown);
}

std::string not_the_logbook_of_before(fs::path const& state, fs::path const& logbook) {
    constexpr char const* lost =
        " What cooked, was held or was timed with that one is not known here: put it back and start again, "
        "or "
        "begin it anew.";
    auto const before = kept_logbook_path(state);
    std::error_code unknown;
    if (!same_logbook(before, logbook))
        return fs::exists(before, unknown)
                   ? "The logbook is " + logbook.string() + ", and was " + before.string() + "." + lost
                   : std::string();
    if (fs::exists(logbook, unknown) || !names_a_logbook(state)) return {};
    return "The logbook " + logbook.string() +
           " of before is not there (is its card or disk mounted?): a new one is begun." + lost;
}

}  // namespace ingle
