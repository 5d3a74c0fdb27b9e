// Asks for an address of an outside watcher at a set interval, for as long as the watching goes round: who
// hears nothing any more knows that the house, its line or the daemon is dead. No notice goes through it.
#include "config/quantity.hpp"
#include "daemon/notices/notifier.hpp"
#include "daemon/notices/transfer.hpp"
#include "drivers/api/secret.hpp"

namespace ingle::heartbeat {
namespace {

constexpr std::string_view methods[] = {"get", "post"};
constexpr double least_s = 1, most_s = 86'400;
constexpr OptionInfo options[] = {
    {"url", OptionKind::text, true, "", {}, 0, 0, "the watcher's address for it, http:// or https://"},
    {"every", OptionKind::text, false, "1 min", {}, 0, 0, "how often, such as \"1 min\""},
    {"method", OptionKind::text, false, "get", methods, 0, 0,
     "get asks for the address; post says how many probes are heard and alarms stand"},
    {"token-file",
     OptionKind::secret_file,
     false,
     "",
     {},
     0,
     0,
     "file of what is sent as Authorization: Bearer"},
    {"token-env", OptionKind::variable, false, "", {}, 0, 0, "the same, in an environment variable"},
    {"certificates",
     OptionKind::certificate_file,
     false,
     "",
     {},
     0,
     0,
     "for a server of your own: the file (PEM) of the certificates to trust in place of the system's"},
};

struct Watcher {
    std::string url, certificates;
    SecretPlace token;
    bool post = false;
    std::chrono::milliseconds every{};
};

class Heartbeat : public Notifier {
public:
    explicit Heartbeat(Watcher watcher) : watcher_(std::move(watcher)) {}

    Attempt deliver(Notice const& beat, std::stop_token stop) override {
        auto const token = read_secret(watcher_.token);  // each time: a new one counts without a restart
        if (!token.wrong.empty()) return Attempt::give_up("the token: " + token.wrong);
        Transfer transfer(watcher_.url, std::move(stop));
        auto const header = [&](std::string const& line) { transfer.add_line(CURLOPT_HTTPHEADER, line); };
        if (!watcher_.certificates.empty()) transfer.set(CURLOPT_CAINFO, watcher_.certificates.c_str());
        if (!token.text.empty()) header("Authorization: Bearer " + token.text);
        auto const body = to_json(beat);
        if (watcher_.post) {
            transfer.set(CURLOPT_POSTFIELDSIZE, static_cast<long>(body.size()));
            transfer.set(CURLOPT_POSTFIELDS, body.c_str());
            header("Content-Type: application/json");
            header("Expect:");
        }
        if (auto const code = transfer.perform(); code != CURLE_OK) return transfer.failure(code);
        auto const status = transfer.status();
        if (status >= 200 && status < 300) return Attempt::delivered();
        auto const said = redacted(watcher_.url) + " answered " + std::to_string(status);
        if (status >= 500 || status == 408 || status == 425 || status == 429) return Attempt::try_again(said);
        return Attempt::give_up(said + ": check url and token");
    }

    std::optional<std::chrono::milliseconds> beats_every() const override { return watcher_.every; }

private:
    Watcher watcher_;
};

std::chrono::milliseconds interval(std::string const& text) {
    auto const parsed = parse_duration(text);
    auto const* every = std::get_if<Duration>(&parsed);
    if (!every || every->seconds < least_s || every->seconds > most_s)
        throw WrongOption("every", "is no time from 1 s to 1 day", "such as \"1 min\"");
    return std::chrono::milliseconds(static_cast<std::int64_t>(every->seconds * 1000));
}

std::unique_ptr<Notifier> make(FreeKeys const& keys, std::filesystem::path const&) {
    Watcher watcher{text_of(keys, "url"),
                    text_of(keys, "certificates"),
                    {text_of(keys, "token-file"), text_of(keys, "token-env")},
                    text_of(keys, "method", "get") == "post",
                    interval(text_of(keys, "every", "1 min"))};
    refuse_unusable_url("url", watcher.url, {"http://", "https://"});
    return std::make_unique<Heartbeat>(std::move(watcher));
}

}  // namespace

extern NotifierInfo const info;
NotifierInfo const info{"heartbeat", "a sign of life to an outside watcher, and no notices", options, &make,
                        false};

}  // namespace ingle::heartbeat
