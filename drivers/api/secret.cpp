#include "drivers/api/secret.hpp"

#include <algorithm>
#include <cstdlib>
#include <filesystem>
#include <fstream>
#include <system_error>

namespace ingle {
namespace {

namespace fs = std::filesystem;

constexpr std::size_t longest = 4096;

Secret none(std::string wrong, std::string right) {
    return {{}, std::move(wrong), std::move(right), false};
}

Secret checked(std::string text, std::string const& where) {
    if (text.empty()) return none(where + " is empty", "write the secret into it");
    auto const control = [](char c) { return static_cast<unsigned char>(c) < 0x20 || c == 0x7f; };
    if (text.size() > longest || std::ranges::any_of(text, control))
        return none(where + " holds no secret of one line", "one line of at most 4096 plain characters");
    return {std::move(text), {}, {}, false};
}

Secret from_file(std::string const& file) {
    std::error_code error;
    auto const status = fs::status(file, error);
    if (status.type() == fs::file_type::not_found)
        return none("there is no file " + file, "a file that holds only the secret");
    if (status.type() != fs::file_type::regular)
        return none(file + " is no file that can be read", "a file that holds only the secret");
    if ((status.permissions() & fs::perms::others_all) != fs::perms::none)
        return none("everybody on this machine can get at " + file, "chmod o= " + file);
    std::ifstream in(file, std::ios::binary);
    if (!in) {
        auto secret = none("this user cannot read " + file, "it belongs to the user that runs ingled");
        secret.unknowable = true;
        return secret;
    }
    std::string text(longest + 2, '\0');
    in.read(text.data(), static_cast<std::streamsize>(text.size()));
    text.resize(static_cast<std::size_t>(in.gcount()));
    text.resize(std::min(text.find('\n'), text.size()));
    if (text.ends_with('\r')) text.pop_back();
    return checked(std::move(text), file);
}

}  // namespace

Secret read_secret(SecretPlace const& place) {
    if (!place.file.empty() && !place.variable.empty())
        return none("a file and an environment variable are named", "one of them");
    if (!place.file.empty()) return from_file(place.file);
    if (place.variable.empty()) return {};
    char const* value = std::getenv(place.variable.c_str());
    if (!value) {
        auto secret = none("the environment variable " + place.variable + " is not set here",
                           "set it where ingled is started");
        secret.unknowable = true;
        return secret;
    }
    return checked(value, "the environment variable " + place.variable);
}

SecretPlace secret_place(Options const& options, std::string const& stem) {
    return {options.text(stem + "-file"), options.text(stem + "-env")};
}

}  // namespace ingle
