// Publishes the kitchen at an MQTT broker: each vessel and dish, the alarms and whether all that is live,
// kept by the broker; and each notice. asyncapi.json describes the topics.
#include <mosquitto.h>
#include <sys/utsname.h>

#include <algorithm>
#include <array>
#include <charconv>
#include <cstdint>

#include "config/quantity.hpp"
#include "daemon/notices/mqtt/publisher.hpp"
#include "daemon/notices/notifier.hpp"

namespace ingle::mqtt {
namespace {

constexpr std::string_view tls_words[] = {"no", "always"};
constexpr OptionInfo options[] = {
    {"broker", OptionKind::text, true, "", {}, 0, 0, "host or host:port of the broker"},
    {"topic", OptionKind::text, false, "ingle", {}, 0, 0, "what all topics of this house begin with"},
    {"client",
     OptionKind::text,
     false,
     "",
     {},
     0,
     0,
     "its name at the broker; else one of this machine's own"},
    {"every",
     OptionKind::text,
     false,
     "10 s",
     {},
     0,
     0,
     "how often a temperature is published; what else changes is at once"},
    {"user", OptionKind::text, false, "", {}, 0, 0, "for brokers that want a login"},
    {"password-file", OptionKind::secret_file, false, "", {}, 0, 0, "a file that holds only the password"},
    {"password-env", OptionKind::variable, false, "", {}, 0, 0, "the same, in an environment variable"},
    {"tls", OptionKind::text, false, "no", tls_words, 0, 0,
     "whether to encrypt; must be said where a password would leave this machine"},
    {"certificates",
     OptionKind::certificate_file,
     false,
     "",
     {},
     0,
     0,
     "for a broker of your own: the file (PEM) of the certificates to trust in place of the system's"},
    {"certificate",
     OptionKind::certificate_file,
     false,
     "",
     {},
     0,
     0,
     "file (PEM) by which the broker knows us"},
    {"certificate-key", OptionKind::secret_file, false, "", {}, 0, 0, "file (PEM) of its key"},
};
constexpr double least_s = 1, most_s = 3600;
constexpr std::size_t longest_topic = 200;

class Mqtt final : public Notifier {
public:
    Mqtt(Broker broker, std::string topic, std::chrono::milliseconds every)
        : publisher_(std::move(broker), std::move(topic), every) {}

    Attempt deliver(Notice const& notice, std::stop_token stop) override {
        return publisher_.hand_over(to_json(notice), stop);
    }
    std::optional<Attempt> prove(std::stop_token stop) override { return publisher_.hand_over("", stop); }
    bool wants_state() const override { return true; }
    void show_state(View const& view) override { publisher_.show(view); }
    void retire() override { publisher_.retire(); }

private:
    Publisher publisher_;
};

// The same after a restart, another one for each state folder of each machine: two clients of one name end
// each other's connections. MQTT 3.1.1, 3.1.3.1: each broker takes 23 letters and digits.
std::string own_name(std::filesystem::path const& state, std::string const& topic) {
    utsname machine{};
    uname(&machine);
    std::uint64_t hash = 0xcbf29ce484222325U;  // FNV-1a
    for (char const c : std::string(machine.nodename) + '\n' + state.string() + '\n' + topic)
        hash = (hash ^ static_cast<unsigned char>(c)) * 0x100000001b3U;
    std::array<char, 16> digits{};
    auto const end = std::to_chars(digits.data(), digits.data() + digits.size(), hash, 36).ptr;
    return "ingle" + std::string(digits.data(), end);
}

void put_place(Broker& broker, std::string const& text) {
    broker.host = text;
    broker.port = broker.tls ? 8883 : 1883;
    auto const colon = text.rfind(':');
    auto const* const right = "such as \"127.0.0.1:1883\"";
    if (colon != std::string::npos && text.find(':') == colon) {
        auto const* const end = text.data() + text.size();
        auto const [at, error] = std::from_chars(text.data() + colon + 1, end, broker.port);
        if (error != std::errc() || at != end || broker.port < 1 || broker.port > 65'535)
            throw WrongOption("broker", "\"" + text + "\" is no broker; write host or host:port", right);
        broker.host.resize(colon);
    }
    if (broker.host.empty() || broker.host.find_first_of("/@ ") != std::string::npos)
        throw WrongOption("broker", "\"" + text + "\" is no broker; write host or host:port", right);
}

bool is_this_machine(std::string const& host) {
    return host == "localhost" || host == "::1" || host.starts_with("127.");
}

std::unique_ptr<Notifier> make(FreeKeys const& keys, std::filesystem::path const& state) {
    auto const has = [&](char const* key) { return keys.find(key) != keys.end(); };
    auto const topic = text_of(keys, "topic", "ingle");
    auto const control = [](char c) { return static_cast<unsigned char>(c) < ' ' || c == 0x7f; };
    if (topic.empty() || topic.size() > longest_topic || topic.find_first_of("+#") != std::string::npos ||
        topic.find("//") != std::string::npos || topic.front() == '/' || topic.back() == '/' ||
        topic.front() == '$' || std::ranges::any_of(topic, control))
        throw WrongOption("topic", "is no beginning of a topic", "such as \"village-hall/ingle\"");
    Broker broker;
    broker.tls = text_of(keys, "tls", "no") == "always";
    put_place(broker, text_of(keys, "broker"));
    broker.client = text_of(keys, "client");
    if (broker.client.empty()) broker.client = own_name(state, topic);
    broker.user = text_of(keys, "user");
    broker.password = {text_of(keys, "password-file"), text_of(keys, "password-env")};
    if (broker.user.empty() == broker.password.named())
        throw WrongOption(broker.user.empty() ? "user" : "password-file",
                          "is missing: a login is a user and a password", "give both, or neither");
    if (!broker.user.empty() && !has("tls") && !is_this_machine(broker.host))
        throw WrongOption("tls", "is missing: the password would be sent in the open",
                          "\"always\", or \"no\" if it may");
    for (auto const* key : {"certificates", "certificate", "certificate-key"})
        if (has(key) && !broker.tls)
            throw WrongOption(key, "means nothing without encryption", "tls = \"always\"");
    broker.certificates = text_of(keys, "certificates");
    broker.certificate = text_of(keys, "certificate");
    broker.certificate_key = text_of(keys, "certificate-key");
    if (broker.certificate.empty() != broker.certificate_key.empty())
        throw WrongOption(broker.certificate.empty() ? "certificate" : "certificate-key",
                          "is missing: the one means nothing without the other", "give both, or neither");
    auto const parsed = parse_duration(text_of(keys, "every", "10 s"));
    auto const* every = std::get_if<Duration>(&parsed);
    if (!every || every->seconds < least_s || every->seconds > most_s)
        throw WrongOption("every", "is no time from 1 s to 1 h", "such as \"10 s\"");
    mosquitto_lib_init();  // counted; never torn down, a thread that hangs may still use it
    return std::make_unique<Mqtt>(
        std::move(broker), topic,
        std::chrono::milliseconds(static_cast<std::int64_t>(every->seconds * 1000)));
}

}  // namespace

extern NotifierInfo const info;
NotifierInfo const info{"mqtt", "the kitchen, its alarms and each notice at an MQTT broker", options, &make};

}  // namespace ingle::mqtt
