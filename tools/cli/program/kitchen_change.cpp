#include "tools/cli/program/kitchen_change.hpp"

#include <sys/socket.h>
#include <sys/stat.h>
#include <sys/un.h>
#include <unistd.h>

#include <algorithm>
#include <chrono>
#include <csignal>
#include <cstdio>
#include <fstream>
#include <optional>
#include <sstream>
#include <thread>

#include "daemon/wiring/kitchen_file.hpp"
#include "tools/cli/program/client.hpp"
#include "tools/cli/program/files.hpp"

namespace ingle::cli {
namespace {

namespace fs = std::filesystem;

// Some changes in a row are taken up at once, those after them half a minute later.
constexpr auto taken_up_within = std::chrono::seconds(45), said_after = std::chrono::seconds(3);

struct RunningDaemon {
    pid_t process = 0;
    fs::path kitchen;
};

// The process at the other end of the socket, and the file that it was started with.
std::optional<RunningDaemon> daemon_at(fs::path const& path) {
    auto const text = path.string();
    sockaddr_un address{};
    if (text.size() >= sizeof address.sun_path) return {};
    address.sun_family = AF_UNIX;
    text.copy(address.sun_path, text.size());
    int const fd = socket(AF_UNIX, SOCK_STREAM | SOCK_CLOEXEC, 0);
    if (fd < 0) return {};
    ucred peer{};
    socklen_t size = sizeof peer;
    bool const known = connect(fd, reinterpret_cast<sockaddr*>(&address), sizeof address) == 0 &&
                       getsockopt(fd, SOL_SOCKET, SO_PEERCRED, &peer, &size) == 0;
    close(fd);
    if (!known || peer.pid <= 0) return {};
    RunningDaemon found{peer.pid, {}};
    auto const about = fs::path("/proc") / std::to_string(peer.pid);
    std::ifstream words(about / "cmdline", std::ios::binary);
    for (std::string word; std::getline(words, word, '\0');) {
        if (word.starts_with("--kitchen=")) found.kitchen = word.substr(10);
        if (word == "--kitchen" && std::getline(words, word, '\0')) found.kitchen = word;
    }
    std::error_code error;
    auto const folder = fs::read_symlink(about / "cwd", error);
    if (!found.kitchen.empty() && found.kitchen.is_relative()) found.kitchen = folder / found.kitchen;
    return found;
}

// Of the socket, which a daemon makes at its start and touches whenever it takes up a kitchen file.
struct Made {
    ino_t file = 0;
    long s = 0, ns = 0;
    friend bool operator==(Made const&, Made const&) = default;
};
std::optional<Made> made(fs::path const& path) {
    struct stat about {};
    if (stat(path.c_str(), &about) != 0) return {};
    return Made{about.st_ino, about.st_ctim.tv_sec, about.st_ctim.tv_nsec};
}

std::string read_again(Context const& context, RunningDaemon const& daemon) {
    Client const client(context.socket());
    auto const before = made(context.socket());
    if (kill(daemon.process, SIGHUP) != 0)
        return "; the daemon belongs to another user: `systemctl reload ingled` makes it read the file";
    auto const began = std::chrono::steady_clock::now();
    bool said = false;
    while (std::chrono::steady_clock::now() < began + taken_up_within) {
        if (!said && std::chrono::steady_clock::now() > began + said_after) {
            context.out << "The file is changed; the daemon takes it up within half a minute ..."
                        << std::endl;
            said = true;
        }
        std::this_thread::sleep_for(std::chrono::milliseconds(100));
        auto const now = made(context.socket());
        if (!now || now == before) continue;
        try {
            client.get("/api/now");
            return "";
        } catch (Failure const&) {  // it does not listen yet
        }
    }
    throw Failure("the file is changed, and the daemon has not taken it up: `ingle history` says why");
}

// What the loader has to say of the file that it had not to say of it before.
std::string new_warnings(std::vector<ConfigError> const& before, std::vector<ConfigError> const& now) {
    std::string text;
    for (auto const& one : now)
        if (std::ranges::none_of(
                before, [&](auto const& other) { return other.key == one.key && other.wrong == one.wrong; }))
            text += "\nwarning: " + one.key + ": " + one.wrong + "; " + one.right;
    return text;
}

// On the disk when it returns: it is about to take the place of the kitchen file, and the plug may be pulled.
void write_file(fs::path const& file, std::string const& text) {
    auto* const out = std::fopen(file.c_str(), "wb");
    bool written = out && std::fwrite(text.data(), 1, text.size(), out) == text.size() &&
                   std::fflush(out) == 0 && fsync(fileno(out)) == 0;
    written = out && std::fclose(out) == 0 && written;
    if (!written) throw Failure(file.string() + " cannot be written");
}

// Of a file that root changes: the daemon, which is another user, still reads it. Nobody else can give it
// away.
void keep_owner(fs::path const& from, fs::path const& to) {
    struct stat about {};
    if (geteuid() == 0 && stat(from.c_str(), &about) == 0 &&
        chown(to.c_str(), about.st_uid, about.st_gid) != 0)
        throw Failure(to.string() + " cannot be given to the owner of " + from.string());
}

}  // namespace

std::string change_kitchen(Context const& context, std::string const& file,
                           std::function<std::string(std::string const&)> const& edit) {
    auto const daemon = daemon_at(context.socket());
    if (file.empty() && (!daemon || daemon->kitchen.empty()))
        throw Failure("which kitchen file? Say it with --kitchen FILE: no daemon tells", wrong_usage);
    std::error_code error;
    auto const given = file.empty() ? daemon->kitchen : fs::path(file);
    auto const kitchen = fs::canonical(given, error);
    if (error) throw Failure(given.string() + " cannot be read: " + error.message(), wrong_usage);
    auto const changed = edit(read_file(kitchen, longest_kitchen_file));
    auto fresh = kitchen, before = kitchen;
    fresh += ".new";
    before += ".before";
    write_file(fresh, changed);
    fs::permissions(fresh, fs::status(kitchen).permissions(), error);
    keep_owner(kitchen, fresh);
    std::string wrong;
    auto const loaded = load_kitchen_for_use(fresh);
    for (auto const& mistake : loaded.errors)
        wrong += (wrong.empty() ? "" : "\n") + mistake.key + ": " + mistake.wrong + ", " + mistake.right;
    if (!wrong.empty()) {
        fs::remove(fresh, error);
        throw Failure(wrong + "\nnothing was changed", wrong_usage);
    }
    fs::copy_file(kitchen, before, fs::copy_options::overwrite_existing, error);
    if (error) {
        std::error_code ignored;
        fs::remove(fresh, ignored);
        throw Failure(before.string() + " cannot be written: " + error.message());
    }
    fs::rename(fresh, kitchen);
    auto text = "written to " + kitchen.string() + " (as it was: " + before.filename().string() + ")" +
                new_warnings(load_kitchen_for_use(before).warnings, loaded.warnings);
    auto const used = daemon && fs::equivalent(daemon->kitchen, kitchen, error);
    return used ? text + read_again(context, *daemon) : text;
}

}  // namespace ingle::cli
