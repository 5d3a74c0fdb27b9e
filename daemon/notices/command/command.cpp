// Hands a notice to a program: an argument list and no shell, the JSON on its standard input, the parts as
// INGLE_* variables, and nothing else of our environment.
#include <fcntl.h>
#include <signal.h>
#include <spawn.h>
#include <sys/wait.h>
#include <unistd.h>

#include <array>
#include <cerrno>
#include <thread>

#include "daemon/notices/notifier.hpp"

namespace ingle::command {
namespace {

using Clock = std::chrono::steady_clock;

constexpr OptionInfo options[] = {
    {"command",
     OptionKind::text,
     true,
     "",
     {},
     0,
     0,
     "the program with its full path and its arguments, a list"},
};
constexpr int cannot_run =
    126;  // and above: what a shell says of a program that cannot be run or was not found
constexpr std::chrono::milliseconds look_every{20};

struct FileActions {
    posix_spawn_file_actions_t value;
    FileActions() { posix_spawn_file_actions_init(&value); }
    ~FileActions() { posix_spawn_file_actions_destroy(&value); }
    FileActions(FileActions const&) = delete;
    FileActions& operator=(FileActions const&) = delete;
};
struct Attributes {
    posix_spawnattr_t value;
    Attributes() { posix_spawnattr_init(&value); }
    ~Attributes() { posix_spawnattr_destroy(&value); }
    Attributes(Attributes const&) = delete;
    Attributes& operator=(Attributes const&) = delete;
};
struct Descriptor {
    int value = -1;
    ~Descriptor() { close_now(); }
    void close_now() {
        if (value >= 0) ::close(value);
        value = -1;
    }
};

std::vector<char*> pointers(std::vector<std::string>& texts) {
    std::vector<char*> out;
    for (auto& text : texts) out.push_back(text.data());
    out.push_back(nullptr);
    return out;
}

std::vector<std::string> environment(Notice const& notice) {
    return {"PATH=/usr/local/bin:/usr/bin:/bin",
            "LC_ALL=C.UTF-8",
            "INGLE_ID=" + notice.id,
            "INGLE_KIND=" + notice.kind,
            "INGLE_ALARM=" + notice.alarm,
            "INGLE_SUBJECT=" + notice.subject,
            "INGLE_PRIORITY=" + notice.priority,
            "INGLE_SINCE=" + notice.since.value_or(""),
            "INGLE_AT=" + notice.at.value_or(""),
            std::string("INGLE_LATE=") + (notice.late ? "true" : "false"),
            "INGLE_TEXT=" + notice.text};
}

// A write to a program that reads no more fails with EPIPE, whatever the calling thread does with SIGPIPE.
ssize_t write_quietly(int descriptor, std::string_view text) {
    sigset_t broken_pipe, before;
    sigemptyset(&broken_pipe);
    sigaddset(&broken_pipe, SIGPIPE);
    pthread_sigmask(SIG_BLOCK, &broken_pipe, &before);
    auto const n = ::write(descriptor, text.data(), text.size());
    auto const error = errno;
    timespec const at_once{};
    if (n < 0 && error == EPIPE) sigtimedwait(&broken_pipe, nullptr, &at_once);
    pthread_sigmask(SIG_SETMASK, &before, nullptr);
    errno = error;
    return n;
}

class Command : public Notifier {
public:
    Command(std::vector<std::string> argv, std::string folder)
        : argv_(std::move(argv)), folder_(std::move(folder)) {}

    Attempt deliver(Notice const& notice, std::stop_token stop) override {
        Descriptor child_end, our_end;
        int ends[2];
        if (::pipe2(ends, O_CLOEXEC) != 0) return Attempt::try_again(failed("no pipe", errno));
        child_end.value = ends[0];
        our_end.value = ends[1];
        ::fcntl(our_end.value, F_SETFL, O_NONBLOCK);
        pid_t child = -1;
        if (int const error = spawn(notice, child_end.value, child)) {
            bool const never = error == ENOENT || error == EACCES || error == ENOEXEC || error == ENOTDIR;
            auto const what = failed("cannot be started", error);
            return never ? Attempt::give_up(what) : Attempt::try_again(what);
        }
        child_end.close_now();
        return attend(child, our_end, to_json(notice) + '\n', stop);
    }

private:
    std::string failed(std::string const& what, int error) const {
        return argv_.front() + ": " + what + ": " + std::error_code(error, std::generic_category()).message();
    }

    int spawn(Notice const& notice, int input, pid_t& child) {
        FileActions actions;
        posix_spawn_file_actions_addchdir_np(&actions.value, folder_.c_str());
        posix_spawn_file_actions_adddup2(&actions.value, input, STDIN_FILENO);
        posix_spawn_file_actions_addopen(&actions.value, STDOUT_FILENO, "/dev/null", O_WRONLY, 0);
        posix_spawn_file_actions_addopen(&actions.value, STDERR_FILENO, "/dev/null", O_WRONLY, 0);
        posix_spawn_file_actions_addclosefrom_np(&actions.value, STDERR_FILENO + 1);
        Attributes attributes;
        sigset_t none, every;
        sigemptyset(&none);
        sigfillset(&every);
        posix_spawnattr_setsigmask(&attributes.value, &none);
        posix_spawnattr_setsigdefault(&attributes.value, &every);
        posix_spawnattr_setpgroup(&attributes.value, 0);  // its own group, so that its children end with it
        posix_spawnattr_setflags(
            &attributes.value,
            static_cast<short>(POSIX_SPAWN_SETSIGMASK | POSIX_SPAWN_SETSIGDEF | POSIX_SPAWN_SETPGROUP));
        auto argv = argv_;
        auto env = environment(notice);
        return posix_spawn(&child, argv.front().c_str(), &actions.value, &attributes.value,
                           pointers(argv).data(), pointers(env).data());
    }

    // Feeds the program until it has all or wants no more, and waits for its end within the limit.
    Attempt attend(pid_t child, Descriptor& input, std::string_view rest, std::stop_token const& stop) {
        auto const deadline = Clock::now() + attempt_limit;
        int status = 0;
        for (;;) {
            if (input.value >= 0) {
                auto const n = write_quietly(input.value, rest);
                if (n > 0) rest.remove_prefix(static_cast<std::size_t>(n));
                if (rest.empty() || (n < 0 && errno != EAGAIN && errno != EINTR)) input.close_now();
            }
            if (auto const ended = ::waitpid(child, &status, WNOHANG);
                ended == child || (ended < 0 && errno != EINTR))
                break;
            if (stop.stop_requested() || Clock::now() > deadline) {
                ::kill(-child, SIGKILL);
                while (::waitpid(child, &status, 0) < 0 && errno == EINTR) {
                }
                return Attempt::try_again(argv_.front() + " did not end within " +
                                          std::to_string(attempt_limit.count()) + " s");
            }
            std::this_thread::sleep_for(look_every);
        }
        if (WIFEXITED(status) && WEXITSTATUS(status) == 0) return Attempt::delivered();
        if (WIFSIGNALED(status))
            return Attempt::try_again(argv_.front() + " was ended by signal " +
                                      std::to_string(WTERMSIG(status)));
        int const code = WEXITSTATUS(status);
        auto const said = argv_.front() + " ended with status " + std::to_string(code);
        return code < cannot_run ? Attempt::try_again(said) : Attempt::give_up(said);
    }

    std::vector<std::string> argv_;
    std::string folder_;
};

std::unique_ptr<Notifier> make(FreeKeys const& keys, std::filesystem::path const& state) {
    auto argv = texts_of(keys, "command");
    if (argv.empty() || !argv.front().starts_with('/'))
        throw WrongOption("command", "does not begin with the full path of a program",
                          "a list such as [\"/usr/bin/tee\", \"-a\", \"notices.log\"]");
    std::error_code error;
    if (!std::filesystem::is_regular_file(argv.front(), error) || ::access(argv.front().c_str(), X_OK) != 0)
        throw WrongOption("command", "there is no program " + argv.front(), "one that can be run");
    return std::make_unique<Command>(std::move(argv), state.empty() ? "." : state.string());
}

}  // namespace

extern NotifierInfo const info;
NotifierInfo const info{"command", "a program, with the notice on its input", options, &make};

}  // namespace ingle::command
