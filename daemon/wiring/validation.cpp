#include "daemon/wiring/validation.hpp"

#include <algorithm>
#include <chrono>
#include <filesystem>
#include <fstream>
#include <string>
#include <type_traits>
#include <utility>

#include "daemon/food/plan_check.hpp"
#include "daemon/notices/notifier.hpp"
#include "daemon/notices/policy.hpp"
#include "daemon/wiring/state_folder.hpp"
#include "daemon/wiring/wiring.hpp"
#include "drivers/api/registry.hpp"
#include "drivers/api/secret.hpp"

namespace ingle {
namespace {

namespace fs = std::filesystem;

// A probe or a channel: the keys that its kind knows, and what the file gives for them.
template <class Keys>
struct Entry {
    std::string prefix;  // of its keys: "probe.stock."
    std::span<OptionInfo const> known;
    Keys& given;
    Where where;
};

template <class S, class Visit>  // S: Settings or Settings const
void for_each_entry(S& settings, Visit const& visit) {
    using Keys = std::conditional_t<std::is_const_v<S>, FreeKeys const, FreeKeys>;
    for (auto& probe : settings.probes)
        if (auto const* driver = find_driver(probe.driver))
            visit(Entry<Keys>{"probe." + probe.name + '.', driver->options, probe.options, probe.where});
    for (auto& channel : settings.channels)
        if (auto const* kind = find_notifier(channel.kind))
            visit(
                Entry<Keys>{"channel." + channel.name + '.', kind->options, channel.options, channel.where});
}

Where place_of(FreeKeys const& given, std::string_view key, Where const& otherwise) {
    auto const found = given.find(key);
    return found == given.end() ? otherwise : found->second.where;
}

bool carries_notices(ChannelSettings const& channel) {
    auto const* kind = find_notifier(channel.kind);
    return !kind || kind->carries_notices;
}

// "" = none. What is no certificate at all is found here; one that is out of date or another's, when it is
// used.
std::string wrong_file(std::string const& path, bool certificates) {
    std::error_code error;
    if (!fs::exists(path, error)) return "there is no file " + path;
    if (!fs::is_regular_file(path, error))
        return path + " is no regular file, but a folder, a device or a pipe";
    if (!certificates) return "";
    std::ifstream file(path);
    if (!file) return "";  // the daemon's user may read it
    for (std::string line; std::getline(file, line);)
        if (line.starts_with("-----BEGIN ") && line.find("CERTIFICATE-----") != std::string::npos) return "";
    return path + " holds no certificate: no line begins one (-----BEGIN CERTIFICATE-----)";
}

constexpr std::size_t long_enough = 12;  // characters of a token; our own judgement

// A damaged logbook is moved away and watched on; a recipe that has its name by mistake is not. Text has no
// zero in its first bytes, every logbook has.
bool is_text(fs::path const& path) {
    std::ifstream file(path, std::ios::binary);
    std::string beginning(64, '\0');
    file.read(beginning.data(), static_cast<std::streamsize>(beginning.size()));
    beginning.resize(static_cast<std::size_t>(file.gcount()));
    return !beginning.empty() && beginning.find('\0') == std::string::npos;
}

// "" = none.
std::string wrong_logbook(Settings const& settings) {
    auto const& text = settings.logbook;
    auto const path = fs::path(text).lexically_normal();
    std::error_code error;
    if (!path.has_filename() || path.filename() == "." || path.filename() == "..")
        return "\"" + text + "\" names a folder, and the logbook is a file";
    if (path.is_relative() && is_own_file(path))
        return "\"" + text + "\" is a file that the daemon keeps in its state folder already";
    if (!path.is_absolute() || !fs::exists(path, error)) return "";
    if (fs::equivalent(path, settings.file, error)) return text + " is this kitchen file";
    if (!fs::is_regular_file(path, error))
        return text + " is no regular file, but a folder, a device or a pipe";
    if (is_text(path)) return text + " is a text and no logbook";
    return "";
}

class Validation {
public:
    explicit Validation(Loaded& loaded) : loaded_(loaded), settings_(loaded.settings) {}

    void run() {
        refuse_secrets_in_the_file();
        auto const wiring = wiring_problems(settings_), channels = channel_problems(settings_);
        add(wiring), add(channels);
        for_each_entry(std::as_const(settings_), [this](auto const& entry) { look_at_machine(entry); });
        read_token();
        if (wiring.empty()) make_drivers();
        make_channels();
        look_at_times();
        // Of a file that could not be read to its end it is not known.
        bool const whole =
            std::ranges::find(loaded_.errors, "syntax", &ConfigError::key) == loaded_.errors.end();
        if (whole && std::ranges::none_of(settings_.channels, carries_notices))
            loaded_.warnings.push_back(
                {{settings_.file, 0, 0},
                 "channel",
                 "there is none for notices: an alarm is told to nobody who does not look",
                 "add a [[channel]]"});
        look_at_logbook();
        for (auto& doubt : plan_doubts(settings_)) loaded_.warnings.push_back(std::move(doubt));
    }

private:
    void add(std::vector<ConfigError> const& errors) {
        loaded_.errors.insert(loaded_.errors.end(), errors.begin(), errors.end());
    }

    void refuse_secret(Where const& where, std::string const& prefix, std::string const& stem) {
        loaded_.errors.push_back({where, prefix + stem, "a secret has no place in this file",
                                  "put it into a file of its own, chmod 0600, and write " + stem +
                                      "-file = \"...\", or " + stem + "-env = \"VARIABLE\""});
    }

    void refuse_secrets_in_the_file() {
        if (!settings_.serve.token.empty()) refuse_secret(settings_.serve.token_where, "serve.", "token");
        for_each_entry(settings_, [this](auto const& entry) {
            for (auto const* stem : {"token", "password"}) {
                auto const found = entry.given.find(stem);
                if (found == entry.given.end()) continue;
                refuse_secret(found->second.where, entry.prefix, stem);
                entry.given.erase(found);  // told; not an unknown key as well
            }
        });
    }

    void look_at_machine(Entry<FreeKeys const> const& entry) {
        auto const options = to_options(entry.given);
        for (auto const& info : entry.known) {
            std::string const key(info.name), text = options.text(info.name);
            auto const where = place_of(entry.given, key, entry.where);
            std::error_code error;
            if (text.empty()) continue;
            bool const certificates = info.kind == OptionKind::certificate_file;
            if (info.kind == OptionKind::file || certificates)
                if (auto const wrong = wrong_file(text, certificates); !wrong.empty())
                    loaded_.errors.push_back({where, entry.prefix + key, wrong, std::string(info.help)});
            if (info.kind == OptionKind::device && !fs::exists(text, error))
                loaded_.warnings.push_back(
                    {where, entry.prefix + key, text + " is not there at this moment", "is it plugged in?"});
            if (info.kind == OptionKind::secret_file)
                tell_secret(read_secret({text, {}}), where, entry.prefix + key);
            if (info.kind == OptionKind::variable)
                tell_secret(read_secret({{}, text}), where, entry.prefix + key);
        }
        for (auto const* stem : {"token", "password"})
            if (auto const place = secret_place(options, stem);
                !place.file.empty() && !place.variable.empty())
                tell_secret(read_secret(place),
                            place_of(entry.given, stem + std::string("-env"), entry.where),
                            entry.prefix + stem + "-env");
    }

    void look_at_logbook() {
        auto const key = "kitchen.logbook";
        auto const& where = settings_.logbook_where;
        if (auto const wrong = wrong_logbook(settings_); !wrong.empty())
            loaded_.errors.push_back({where, key, wrong, "write a file's name, such as \"logbook.db\""});
        // A card that is not mounted yet is no reason not to watch.
        auto const folder = fs::path(settings_.logbook).parent_path();
        std::error_code error;
        if (folder.is_absolute() && !fs::is_directory(folder, error))
            loaded_.warnings.push_back({where, key,
                                        "there is no folder " + folder.string() + " at this moment",
                                        "until there is, nothing is recorded"});
    }

    void tell_secret(Secret const& secret, Where const& where, std::string const& key) {
        if (secret.wrong.empty()) return;
        (secret.unknowable ? loaded_.warnings : loaded_.errors)
            .push_back({where, key, secret.wrong, secret.right});
    }

    void read_token() {
        auto& serve = settings_.serve;
        if (!serve.token.empty()) return;
        auto secret = read_secret({serve.token_file, serve.token_env});
        auto const* const key = serve.token_file.empty() ? "serve.token-env" : "serve.token-file";
        tell_secret(secret, serve.token_where, key);
        if (!secret.text.empty() && secret.text.size() < long_enough)
            loaded_.warnings.push_back({serve.token_where, key,
                                        "is a token of fewer than 12 characters, which can be guessed",
                                        "write a longer one into it, by chance: openssl rand -hex 16"});
        serve.token = std::move(secret.text);
    }

    struct Deaf final : ReadingSink {
        void on_reading(int, Reading) override {}
        void on_driver_event(int, std::string_view, std::string) override {}
        void on_switch(int, Instant, bool) override {}
    };

    // What is told of a key already is not told twice.
    void refuse(WrongOption const& wrong, std::string const& prefix, FreeKeys const& given,
                Where const& where) {
        auto const key = prefix + wrong.key;
        if (std::ranges::find(loaded_.errors, key, &ConfigError::key) != loaded_.errors.end()) return;
        loaded_.errors.push_back({place_of(given, wrong.key, where), key, wrong.what(), wrong.right});
    }

    void make_drivers() {
        boost::asio::io_context io;
        Deaf nobody;
        auto const commons = std::make_shared<Commons>();
        for (auto& group : group_probes(settings_)) {
            auto const first = group.probes.front().number;
            try {
                group.driver->make({io, nobody, [](Severity, std::string const&) {}, commons},
                                   std::move(group.probes));
            } catch (WrongOption const& wrong) {
                auto const& probe =
                    settings_.probes[static_cast<std::size_t>(wrong.probe < 0 ? first : wrong.probe)];
                refuse(wrong, "probe." + probe.name + '.', probe.options, probe.where);
            } catch (std::exception const& failure) {
                auto const& probe = settings_.probes[static_cast<std::size_t>(first)];
                loaded_.errors.push_back({probe.where, "probe." + probe.name, failure.what(), ""});
            }
        }
    }

    void make_channels() {
        for (auto const& channel : settings_.channels) {
            auto const* kind = find_notifier(channel.kind);
            if (!kind) continue;
            try {
                policy_of(channel.options);
                kind->make(channel.options, {});
            } catch (WrongOption const& wrong) {
                refuse(wrong, "channel." + channel.name + '.', channel.options, channel.where);
            } catch (std::exception const& failure) {
                loaded_.errors.push_back({channel.where, "channel." + channel.name, failure.what(), ""});
            }
        }
    }

    void look_at_times() {
        auto const now = std::chrono::floor<std::chrono::milliseconds>(std::chrono::system_clock::now());
        for (auto const& dish : settings_.dishes)
            if (dish.serve_at && *dish.serve_at < now.time_since_epoch().count())
                loaded_.warnings.push_back({dish.where, "dish." + dish.name + ".serve-at",
                                            "is in the past by this machine's clock",
                                            "say when it is to be served next"});
    }

    Loaded& loaded_;
    Settings& settings_;
};

}  // namespace

void resolve_paths(Settings& settings) {
    auto const folder = fs::absolute(settings.file).parent_path();
    auto const resolve = [&](std::string& file) {
        if (!file.empty()) file = (folder / file).lexically_normal().string();
    };
    resolve(settings.serve.token_file);
    for_each_entry(settings, [&](auto const& entry) {
        for (auto const& info : entry.known) {
            if (!names_a_file(info.kind)) continue;
            auto const found = entry.given.find(info.name);
            if (found == entry.given.end()) continue;
            if (auto* text = std::get_if<std::string>(&found->second.value)) resolve(*text);
        }
    });
}

void check_for_use(Loaded& loaded) {
    Validation(loaded).run();
}

}  // namespace ingle
