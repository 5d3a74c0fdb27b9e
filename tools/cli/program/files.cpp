#include "tools/cli/program/files.hpp"

#include <array>
#include <cerrno>
#include <cstring>
#include <fstream>

#include "daemon/wiring/kitchen_file.hpp"
#include "tools/cli/program/command.hpp"
#include "tools/cli/time/local_time.hpp"

namespace ingle::cli {

std::string read_file(std::filesystem::path const& path, std::size_t most) {
    std::error_code ignored;
    if (std::filesystem::is_directory(path, ignored)) {
        throw Failure("cannot read " + path.string() + ": it is a folder", wrong_usage);
    }
    // What answers slowly or without end.
    if (std::filesystem::exists(path, ignored) && !std::filesystem::is_regular_file(path, ignored))
        throw Failure("cannot read " + path.string() + ": it is no regular file, but a device or a pipe",
                      wrong_usage);
    auto const fail = [&] {
        throw Failure("cannot read " + path.string() + ": " + std::strerror(errno), wrong_usage);
    };
    std::ifstream in(path, std::ios::binary);
    if (!in) fail();
    std::string text;
    std::array<char, 1 << 16> block;
    while (in.read(block.data(), block.size()) || in.gcount() > 0) {
        text.append(block.data(), static_cast<std::size_t>(in.gcount()));
        if (text.size() > most) {
            throw Failure(
                "cannot read " + path.string() + ": it is longer than " + std::to_string(most >> 20) + " MiB",
                wrong_usage);
        }
    }
    if (in.bad()) fail();
    return text;
}

void refuse_to_replace_another_kind(std::string const& path, std::string_view begins) {
    std::error_code ignored;
    if (!std::filesystem::is_regular_file(path, ignored)) return;
    std::string there(begins.size(), '\0');
    std::ifstream in(path, std::ios::binary);
    in.read(there.data(), static_cast<std::streamsize>(there.size()));
    if (in.gcount() == 0 || there == begins) return;
    throw Failure(path +
                      " is there already and is another kind of file: it is not written over. Give another "
                      "name, or remove it first",
                  wrong_usage);
}

Recording read_recording(std::filesystem::path const& path) {
    auto parsed = parse_recording(read_file(path, longest_recording));
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
