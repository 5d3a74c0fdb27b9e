// ingled: arguments, the kitchen file, signals; the rest is daemon/run.
#include <curl/curl.h>
#include <fcntl.h>
#include <spdlog/spdlog.h>
#include <sys/file.h>
#include <sys/stat.h>
#include <unistd.h>

#include <CLI/CLI.hpp>
#include <algorithm>
#include <cerrno>
#include <csignal>
#include <cstdlib>
#include <cstring>
#include <deque>
#include <filesystem>
#include <iostream>
#include <memory>
#include <optional>
#include <utility>

#include "config/civil_time/time_zone.hpp"
#include "config/plain_text.hpp"
#include "config/settings.hpp"
#include "daemon/run/accepted_kitchen.hpp"
#include "daemon/run/app.hpp"
#include "daemon/run/log_sink.hpp"
#include "daemon/run/missing_parts.hpp"
#include "daemon/run/read_only_disk.hpp"
#include "daemon/wiring/kitchen_file.hpp"
#include "daemon/wiring/state_folder.hpp"
#include "daemon/wiring/wiring.hpp"

namespace {

namespace fs = std::filesystem;

// Makes the folder, keeps it from others, and holds it for this process until its end. "" = done, else a
// sentence.
std::string take_state_folder(fs::path const& folder) {
    std::error_code error;
    bool const made = fs::create_directories(folder, error);
    // A card that went read-only after a bad write: nothing is kept, and the kitchen is watched all the same.
    bool const worn_out = !error && ingle::on_read_only_disk(folder);
    if (worn_out)
        spdlog::error("{} is on a disk that cannot be written: nothing is recorded", folder.string());
    else if (error || access(folder.c_str(), W_OK) != 0)
        return "the state directory " + folder.string() + " cannot be written; choose one with --state";
    auto const lock = folder / "ingled.lock";
    // A folder that has been ours before is ours; what else somebody names may have other readers.
    bool const ours = made || fs::exists(lock, error);
    // Nothing is written that is so already: a disk that does not take it must not keep a kitchen unwatched.
    if (ours && (fs::status(folder, error).permissions() & fs::perms::others_all) != fs::perms::none)
        fs::permissions(folder, fs::perms::others_all, fs::perm_options::remove, error);
    int const fd =
        open(lock.c_str(), (worn_out ? O_RDONLY : O_RDWR | O_CREAT) | O_CLOEXEC | O_NOFOLLOW, 0640);
    if (fd < 0 && worn_out && errno == ENOENT) return "";
    if (fd < 0) return lock.string() + " cannot be opened: " + std::strerror(errno);
    if (flock(fd, LOCK_EX | LOCK_NB) == 0) return "";
    return errno == EWOULDBLOCK
               ? "another ingled runs on " + folder.string() + "; stop it, or choose another --state"
               : lock.string() + " cannot be locked: " + std::strerror(errno);
}

// Every time that is told is in the kitchen's own zone, else in that of the machine.
ingle::TimeZone zone_of(ingle::Settings const& kitchen) {
    if (!kitchen.zone.empty())  // that there is no such zone was told when the file was read
        return ingle::TimeZone::named(kitchen.zone).value_or(ingle::TimeZone());
    auto found = ingle::machine_zone();
    if (!found.complaint.empty()) spdlog::warn("{}", found.complaint);
    return std::move(found.zone);
}

// Signals wait while there is nobody to hear them, at the start and at the end. Threads that are made
// meanwhile never take them.
void handle_signals(bool now) {
    sigset_t set;
    sigemptyset(&set);
    for (int const signal : {SIGINT, SIGTERM, SIGHUP}) sigaddset(&set, signal);
    pthread_sigmask(now ? SIG_UNBLOCK : SIG_BLOCK, &set, nullptr);
}

struct KitchenFile {
    std::optional<ingle::AppSettings> settings;  // empty: it cannot be used
    std::string complaints;                      // all that is wrong with it
};

// `from`: the kitchen file, or what was kept of it.
KitchenFile read_kitchen(auto const& from, fs::path const& kitchen, fs::path const& state) {
    KitchenFile read;
    try {
        auto loaded = ingle::load_kitchen_for_use(from);
        for (auto const& warning : loaded.warnings) spdlog::warn("{}", warning.text());
        for (auto const& error : loaded.errors)
            read.complaints += (read.complaints.empty() ? "" : "\n") + error.text();
        if (!loaded.errors.empty()) return read;
        mark_contacts(loaded.settings);
        auto const zone = zone_of(loaded.settings);
        read.settings =
            ingle::AppSettings{std::move(loaded.settings), std::move(loaded.texts), state.string(), zone};
    } catch (std::exception const& failure) {
        read.complaints = kitchen.string() + ": cannot be read: " + failure.what();
    }
    return read;
}

// The daemon from its first set of settings to its end. A changed kitchen file is read beside the watching;
// the kitchen that it describes takes over within one turn of the thread, or the earlier one goes on.
class Daemon {
public:
    // `refused`: what is wrong with the kitchen file, if these are the settings of before.
    Daemon(ingle::AppSettings settings, fs::path kitchen, std::string refused)
        : kitchen_(std::move(kitchen)),
          refused_at_start_(std::move(refused)),
          state_(settings.state_folder),
          accepted_(state_, background_),
          quit_(io_, SIGINT, SIGTERM),
          reload_(io_, SIGHUP),
          rest_(io_),
          late_(io_),
          told_(io_) {
        ingle::write_log_times(settings.zone);
        lacking_ = since_accepted(settings);
        texts_ = settings.texts;
        app_ = std::make_unique<ingle::App>(io_, std::move(settings), manager_, background_);
    }

    int run() {
        quit_.async_wait([this](auto const& failed, int) {
            if (failed) return;
            manager_.stopping();
            app_->stop();
            io_.stop();
        });
        await_reload();
        int status = 0;
        try {
            app_->start();
            tell_of_the_start();
            handle_signals(true);
            io_.run();
        } catch (std::exception const& failure) {
            spdlog::critical("{}", failure.what());
            status = 1;
        }
        handle_signals(false);
        app_->stop();
        // A card or a mail server that hangs does not keep the daemon from ending: what is not delivered is
        // in the outbox.
        if (!background_.wait(longest_end)) {
            if (auto const lost = app_->not_recorded(); !lost.empty()) spdlog::error("{}", lost);
            std::_Exit(status);
        }
        return status;
    }

private:
    static constexpr ingle::Span longest_end{6000};
    // So many changes are taken up at once, and then none until the first of them is so long ago: however
    // many signals come, what is seen has time to be judged.
    static constexpr std::size_t at_once = 4;
    static constexpr ingle::Span breath{30'000};
    static constexpr ingle::Span until_raised{3000};  // of an alarm of the kitchen

    // What the kitchen file has lost since the daemon last went by it.
    std::string since_accepted(ingle::AppSettings const& settings) {
        auto const texts = ingle::accepted_kitchen(state_, kitchen_);
        if (!texts) return {};
        auto const before = ingle::load_kitchen(*texts).settings;
        auto missing = ingle::missing_parts(before, settings.kitchen);
        if (!missing.empty()) whole_ = before;
        return missing;
    }

    void tell_of_the_start() {
        app_->kitchen_file("kitchen-file-refused", {});  // whatever was told before a restart
        if (!lacking_.empty()) app_->kitchen_file("kitchen-file-lacks", lacking_, {}, true);
        if (refused_at_start_.empty()) {
            app_->kitchen_file("kitchen-file-unusable", {});
            keep(std::move(texts_), !lacking_.empty());
            return;
        }
        auto const text =
            "The kitchen file cannot be used, and the kitchen of before goes on: " + refused_at_start_;
        spdlog::error("{}", text);
        app_->kitchen_file("kitchen-file-unusable", first_of(text), text);
    }

    // The difference to the one of before is forgotten with it: the alarm of it is on the disk first.
    void keep(ingle::KitchenTexts texts, bool differs) {
        told_.cancel();
        unkept_.reset();
        if (!differs) return accepted_.keep(std::move(texts));
        unkept_ = std::move(texts);
        after(until_raised, [this] { keep_once_kept(app_->remember()); });
    }
    void keep_once_kept(std::function<bool()> alarm_is_kept) {
        if (!unkept_) return;
        if (!alarm_is_kept())
            return after(std::chrono::seconds(1), [this, alarm_is_kept] { keep_once_kept(alarm_is_kept); });
        accepted_.keep(std::move(*unkept_));
        unkept_.reset();
    }
    void after(ingle::Span span, auto then) {
        told_.expires_after(span);
        told_.async_wait([then](auto const& failed) {
            if (!failed) then();
        });
    }

    void await_reload() {
        reload_.async_wait([this](auto const& failed, int) {
            if (failed) return;
            read_again_ = true;
            manager_.reloading();
            read();
            await_reload();
        });
    }

    // The change that was asked for before the logbook was open is taken up when it is.
    void await_the_past() {
        late_.expires_after(std::chrono::seconds(1));
        late_.async_wait([this](auto const& failed) {
            if (failed) return;
            if (!app_->knows_the_past()) return await_the_past();
            read_again_ = true;
            manager_.reloading();
            read();
        });
    }

    // One reading at a time: the signals that come meanwhile are answered by another one after it.
    void read() {
        if (reading_ || resting_ || !read_again_) return;
        if (taken_up_.size() == at_once && ingle::BootClock::now() - taken_up_.front() < breath) {
            resting_ = true;
            rest_.expires_at(taken_up_.front() + breath);
            rest_.async_wait([this](auto const& failed) {
                if (failed) return;
                resting_ = false;
                read();
            });
            return;
        }
        reading_ = true, read_again_ = false;
        background_.run([this, kitchen = kitchen_, state = state_] {
            auto file = std::make_shared<KitchenFile>(read_kitchen(kitchen, kitchen, state));
            boost::asio::post(io_, [this, file] {
                reading_ = false;
                take_up(std::move(*file));
                read();
            });
        });
    }

    void take_up(KitchenFile file) {
        if (!file.settings) return refuse("has mistakes", file.complaints);
        if (!app_->knows_the_past()) {
            await_the_past();
            return refuse("is not taken up yet",
                          "the logbook is not open. Once it is, the file is read again");
        }
        try {
            auto const zone = file.settings->zone;
            auto texts = file.settings->texts;
            auto const before = app_->settings();
            auto const lacking = ingle::missing_parts(before, file.settings->kitchen);
            auto next =
                std::make_unique<ingle::App>(io_, std::move(*file.settings), manager_, background_, *app_);
            next->take_over(*app_);
            app_ = std::move(next);
            if (taken_up_.size() == at_once) taken_up_.pop_front();
            taken_up_.push_back(ingle::BootClock::now());
            app_->kitchen_file("kitchen-file-refused", {});
            app_->kitchen_file("kitchen-file-unusable", {});
            if (!lacking.empty()) {
                app_->kitchen_file("kitchen-file-lacks", lacking, {}, true);
                if (!whole_) whole_ = before;
            } else if (whole_ && ingle::missing_parts(*whole_, app_->settings()).empty()) {
                app_->kitchen_file("kitchen-file-lacks", {});
                whole_.reset();
            }
            keep(std::move(texts), !lacking.empty());
            ingle::write_log_times(zone);
            spdlog::info("{} was read again; going on with it", kitchen_.string());
        } catch (std::exception const& failure) {
            refuse("cannot be used", failure.what());
        }
    }

    void refuse(std::string const& what, std::string const& why) {
        spdlog::error("the changed kitchen file {}, the earlier one goes on: {}", what, why);
        auto const text = "The changed kitchen file " + what + ", the earlier one goes on: " + why;
        app_->kitchen_file("kitchen-file-refused", first_of(text), text);
        manager_.ready("the earlier kitchen file goes on");
    }

    static std::string first_of(std::string const& mistakes) {
        auto const more = std::ranges::count(mistakes, '\n');
        return mistakes.substr(0, mistakes.find('\n')) +
               (more > 0 ? " And " + std::to_string(more) + " more, says `ingle check`." : "");
    }

    fs::path kitchen_;
    std::string refused_at_start_, lacking_;
    ingle::KitchenTexts texts_;
    std::optional<ingle::KitchenTexts> unkept_;
    std::optional<ingle::Settings> whole_;  // before it lost what the alarm is about
    fs::path state_;
    ingle::Background background_;
    ingle::AcceptedKitchen accepted_;
    ingle::ServiceManager manager_;
    boost::asio::io_context io_{1};
    boost::asio::signal_set quit_, reload_;
    boost::asio::basic_waitable_timer<ingle::BootClock> rest_, late_, told_;
    std::unique_ptr<ingle::App> app_;
    std::deque<ingle::Instant> taken_up_;
    bool reading_ = false, resting_ = false, read_again_ = false;
};

int run(fs::path const& kitchen, fs::path const& state) {
    auto file = read_kitchen(kitchen, kitchen, state);
    std::string mistakes;
    if (!file.settings) {
        if (auto const before = ingle::accepted_kitchen(state, kitchen)) {
            mistakes = std::exchange(file.complaints, {});
            file.settings = read_kitchen(*before, kitchen, state).settings;
        }
        if (!file.settings) {
            std::cerr << ingle::plain_text(mistakes.empty() ? file.complaints : mistakes) << '\n';
            return 2;
        }
    }
    if (auto const refused = take_state_folder(state); !refused.empty()) {
        std::cerr << "ingled: " << refused << '\n';
        return 1;
    }
    return Daemon(std::move(*file.settings), kitchen, mistakes).run();
}

}  // namespace

int main(int argc, char* argv[]) {
    CLI::App options("Watches the temperatures of a kitchen.\nExample: ingled --kitchen kitchen.toml",
                     "ingled");
    std::string kitchen, state = ingle::default_state_folder().string();
    options.add_option("--kitchen", kitchen, "the kitchen file (TOML)")->required();
    options.add_option("--state", state, "folder of the logbook and the socket")->capture_default_str();
    options.set_version_flag("--version", INGLE_VERSION);
    try {
        options.parse(argc, argv);
    } catch (CLI::ParseError const& error) {
        return options.exit(error) == 0 ? 0 : 2;
    }
    umask(0027);  // what is written here is its user's and its group's
    handle_signals(false);
    curl_global_init(CURL_GLOBAL_DEFAULT);  // before any thread
    std::signal(SIGPIPE, SIG_IGN);          // whoever read the log, or a connection, may be gone
    spdlog::set_default_logger(ingle::make_log(STDERR_FILENO));
    ingle::write_log_times(ingle::TimeZone());
    try {
        return run(kitchen, state);
    } catch (std::exception const& error) {
        std::cerr << "ingled: " << error.what() << '\n';
        return 1;
    }
}
