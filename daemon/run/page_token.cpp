#include "daemon/run/page_token.hpp"

#include <fcntl.h>
#include <sys/random.h>
#include <sys/stat.h>
#include <unistd.h>

#include <array>

#include "daemon/web/guard.hpp"

namespace ingle {
namespace {

constexpr std::size_t token_length = 24;  // letters and digits, 5 bits in each: 120 bits

struct File {
    explicit File(int opened) : descriptor(opened) {}
    ~File() {
        if (descriptor >= 0) close(descriptor);
    }
    File(File const&) = delete;
    File& operator=(File const&) = delete;
    int descriptor;
};

std::string kept_token(std::string const& path) {
    File const file(open(path.c_str(), O_RDONLY | O_CLOEXEC | O_NOFOLLOW | O_NONBLOCK));
    struct stat found {};
    if (file.descriptor < 0 || fstat(file.descriptor, &found) != 0 || !S_ISREG(found.st_mode) ||
        (found.st_mode & 077) != 0) {
        return {};
    }
    std::array<char, token_length> text{};
    if (read(file.descriptor, text.data(), text.size()) != static_cast<ssize_t>(text.size())) return {};
    return {text.data(), text.size()};
}

std::string new_token() {
    std::array<unsigned char, token_length> bytes{};
    if (getrandom(bytes.data(), bytes.size(), 0) != static_cast<ssize_t>(bytes.size())) return {};
    constexpr char letters[] = "abcdefghijkmnpqrstuvwxyz23456789";  // none that looks like another
    std::string token;
    for (auto const byte : bytes) token += letters[byte % 32];
    return token;
}

}  // namespace

std::string page_token(ServeSettings const& serve, std::string const& state_folder) {
    if (!serve.token.empty() || !is_loopback(serve.address)) return serve.token;
    auto const path = state_folder + "/page.token";
    struct stat found {};
    if (lstat(path.c_str(), &found) == 0) return kept_token(path);
    auto token = new_token();
    if (token.empty()) return {};
    File const file(open(path.c_str(), O_WRONLY | O_CREAT | O_EXCL | O_CLOEXEC | O_NOFOLLOW, 0600));
    if (file.descriptor < 0) return {};
    auto const line = token + "\n";
    if (write(file.descriptor, line.data(), line.size()) == static_cast<ssize_t>(line.size())) return token;
    unlink(path.c_str());
    return {};
}

}  // namespace ingle
