#include "daemon/run/own_secret.hpp"

#include <fcntl.h>
#include <sys/random.h>
#include <sys/stat.h>
#include <unistd.h>

#include <vector>

namespace ingle {
namespace {

struct File {
    explicit File(int opened) : descriptor(opened) {}
    ~File() {
        if (descriptor >= 0) close(descriptor);
    }
    File(File const&) = delete;
    File& operator=(File const&) = delete;
    int descriptor;
};

std::string kept(std::string const& path, std::size_t length) {
    File const file(open(path.c_str(), O_RDONLY | O_CLOEXEC | O_NOFOLLOW | O_NONBLOCK));
    struct stat found {};
    if (file.descriptor < 0 || fstat(file.descriptor, &found) != 0 || !S_ISREG(found.st_mode) ||
        (found.st_mode & 077) != 0) {
        return {};
    }
    std::string text(length, '\0');
    if (read(file.descriptor, text.data(), text.size()) != static_cast<ssize_t>(text.size())) return {};
    return text;
}

std::string new_secret(std::size_t length) {
    std::vector<unsigned char> bytes(length);
    if (getrandom(bytes.data(), bytes.size(), 0) != static_cast<ssize_t>(bytes.size())) return {};
    constexpr char letters[] = "abcdefghijkmnpqrstuvwxyz23456789";  // none that looks like another
    std::string secret;
    for (auto const byte : bytes) secret += letters[byte % 32];
    return secret;
}

}  // namespace

std::string own_secret(std::string const& path, std::size_t length) {
    struct stat found {};
    if (lstat(path.c_str(), &found) == 0) return kept(path, length);
    auto secret = new_secret(length);
    if (secret.empty()) return {};
    File const file(open(path.c_str(), O_WRONLY | O_CREAT | O_EXCL | O_CLOEXEC | O_NOFOLLOW, 0600));
    if (file.descriptor < 0) return {};
    auto const line = secret + "\n";
    if (write(file.descriptor, line.data(), line.size()) == static_cast<ssize_t>(line.size())) return secret;
    unlink(path.c_str());
    return {};
}

}  // namespace ingle
