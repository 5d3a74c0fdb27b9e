#include "tools/cli/program/files.hpp"

#include <cerrno>
#include <cstring>
#include <fstream>
#include <sstream>

#include "daemon/wiring/kitchen_file.hpp"
#include "tools/cli/program/command.hpp"
#include "tools/cli/time/local_time.hpp"

namespace ingle::cli {

std::string read_file(std::filesystem::path const& path) {
    std::error_code ignored;
    if (std::filesystem::is_directory(path, ignored)) {
        throw Failure("cannot read " + path.string() + ": it is a folder", wrong_usage);
    }
    std::ifstream in(path, std::ios::binary);
    std::ostringstream text;
    if (in) text << in.rdbuf();
    if (!in) throw Failure("cannot read " + path.string() + ": " + std::strerror(errno), wrong_usage);
    return std::move(text).str();
}

Recording read_recording(std::filesystem::path const& path) {
    auto parsed = parse_recording(read_file(path));
    if (parsed.errors.empty()) return std::move(parsed.recording);
    std::string all = "that is no recording:";
    for (auto const& error : parsed.errors) all += "\n  " + error.text(path.string());
    throw Failure(all, wrong_usage);
}

Settings read_kitchen(std::filesystem::path const& path) {
    auto loaded = load_kitchen_and_plans(path);
    if (loaded.errors.empty()) {
        tell_times_in(loaded.settings.zone);
        return std::move(loaded.settings);
    }
    std::string all = "the kitchen file has mistakes:";
    for (auto const& error : loaded.errors) all += "\n  " + error.text();
    throw Failure(all, wrong_usage);
}

}  // namespace ingle::cli
