#include "daemon/run/accepted_kitchen.hpp"

#include <fcntl.h>
#include <spdlog/spdlog.h>
#include <sys/stat.h>
#include <unistd.h>

#include <nlohmann/json.hpp>
#include <utility>

#include "daemon/wiring/state_folder.hpp"

namespace ingle {
namespace {

namespace fs = std::filesystem;
using Json = nlohmann::json;

std::string full_name(fs::path const& kitchen) {
    std::error_code ignored;
    return fs::absolute(kitchen, ignored).lexically_normal().string();
}

// Where it is, whatever links lead there.
std::string real_name(fs::path const& kitchen) {
    std::error_code unknown;
    return fs::weakly_canonical(kitchen, unknown).string();
}

std::string written(KitchenTexts const& texts) {
    Json out{{"file", full_name(texts.file)},
             {"real", real_name(texts.file)},
             {"text", texts.text},
             {"plans", Json::object()}};
    for (auto const& [name, plan] : texts.plans)
        out["plans"][name] = {{"file", plan.file}, {"text", plan.text}};
    return out.dump(1, ' ', false, Json::error_handler_t::replace) + "\n";
}

constexpr off_t longest = 8 << 20;  // bytes: a kitchen file and its plans as JSON

// "" = there is none, it is longer than any, or the disk does not give it back. Not through a link, and not
// what others may have written.
std::string content(fs::path const& file) {
    int const fd = open(file.c_str(), O_RDONLY | O_CLOEXEC | O_NOFOLLOW | O_NONBLOCK);
    if (fd < 0) return {};
    struct stat found {};
    std::string text;
    if (fstat(fd, &found) == 0 && S_ISREG(found.st_mode) && (found.st_mode & 022) == 0 &&
        found.st_size <= longest) {
        text.resize(static_cast<std::size_t>(found.st_size));
        if (read(fd, text.data(), text.size()) != static_cast<ssize_t>(text.size())) text.clear();
    }
    close(fd);
    return text;
}

bool write_through(fs::path const& path, int flags, std::string const& text) {
    int const fd = open(path.c_str(), flags | O_CLOEXEC | O_NOFOLLOW, 0600);
    if (fd < 0) return false;
    bool const wrote =
        text.empty() || write(fd, text.data(), text.size()) == static_cast<ssize_t>(text.size());
    bool const done = wrote && fsync(fd) == 0;
    return close(fd) == 0 && done;
}

// Whole or not at all, whenever the plug is pulled.
bool replace(fs::path const& file, std::string const& text) {
    auto const fresh = file.string() + ".new";
    std::error_code failed;
    fs::remove(fresh, failed);
    if (!write_through(fresh, O_WRONLY | O_CREAT | O_EXCL, text)) return false;
    fs::rename(fresh, file, failed);
    return !failed && write_through(file.parent_path(), O_RDONLY | O_DIRECTORY, {});
}

}  // namespace

struct AcceptedKitchen::Shared {
    explicit Shared(fs::path const& state) : file(accepted_kitchen_path(state)) {}

    // On a thread of its own, one at a time: a card that hangs holds up this and nothing else.
    void write() {
        for (;;) {
            std::string next;
            {
                std::lock_guard const lock(mutex);
                if (latest.empty()) return void(writing = false);
                next = std::exchange(latest, {});
            }
            if (next != content(file) && !replace(file, next))
                spdlog::warn("{} cannot be written: a start with a mistake in the kitchen file will fail",
                             file.string());
        }
    }

    fs::path const file;
    std::mutex mutex;
    std::string latest;  // "" = nothing to write
    bool writing = false;
};

AcceptedKitchen::AcceptedKitchen(fs::path const& state, Background& background)
    : shared_(std::make_shared<Shared>(state)), background_(background) {}

void AcceptedKitchen::keep(KitchenTexts texts) {
    {
        std::lock_guard const lock(shared_->mutex);
        shared_->latest = written(texts);
        if (std::exchange(shared_->writing, true)) return;
    }
    background_.run([shared = shared_] { shared->write(); });
}

std::optional<KitchenTexts> accepted_kitchen(fs::path const& state, fs::path const& kitchen) {
    try {
        auto const kept = Json::parse(content(accepted_kitchen_path(state)));
        if (kept.at("file") != full_name(kitchen) && kept.at("real") != real_name(kitchen))
            return std::nullopt;
        KitchenTexts texts{kitchen.string(), kept.at("text"), {}};
        for (auto const& [name, plan] : kept.at("plans").items())
            texts.plans[name] = {plan.at("file"), plan.at("text")};
        return texts;
    } catch (std::exception const&) {
        return std::nullopt;
    }
}

}  // namespace ingle
