#include <filesystem>

#include "drivers/reading/recording.hpp"

namespace ingle {

std::string no_recording(std::string const& path) {
    std::error_code error;
    auto const type = std::filesystem::status(path, error).type();
    if (type == std::filesystem::file_type::not_found || type == std::filesystem::file_type::none) return {};
    if (type != std::filesystem::file_type::regular)
        return "it is no regular file, but a folder, a device or a pipe";
    auto const size = std::filesystem::file_size(path, error);
    if (!error && size > longest_recording)
        return "it is longer than " + std::to_string(longest_recording >> 20) + " MiB";
    return {};
}

}  // namespace ingle
