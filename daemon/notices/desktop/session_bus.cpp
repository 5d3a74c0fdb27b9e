#include "daemon/notices/desktop/session_bus.hpp"

#include <systemd/sd-bus.h>
#include <time.h>

#include <algorithm>
#include <cerrno>
#include <string_view>
#include <system_error>
#include <utility>

namespace ingle::desktop {
namespace {

constexpr char const* service = "org.freedesktop.Notifications";
constexpr char const* path = "/org/freedesktop/Notifications";
constexpr std::uint64_t answer_limit_us = 2'000'000;  // of a stop, too, when it hangs

struct Error {
    sd_bus_error value = SD_BUS_ERROR_NULL;
    Error() = default;
    ~Error() { sd_bus_error_free(&value); }
    Error(Error const&) = delete;
    Error& operator=(Error const&) = delete;
};
struct Unref {
    void operator()(sd_bus_message* message) const { sd_bus_message_unref(message); }
};
using Message = std::unique_ptr<sd_bus_message, Unref>;

int on_action(sd_bus_message* message, void* data, sd_bus_error*) {
    std::uint32_t id = 0;
    char const* word = nullptr;
    if (sd_bus_message_read(message, "us", &id, &word) < 0) return 0;
    auto const& events = *static_cast<SessionBus::Events*>(data);
    if (events.action) events.action(id, word);
    return 0;
}

int on_closed(sd_bus_message* message, void* data, sd_bus_error*) {
    std::uint32_t id = 0, why = 0;
    if (sd_bus_message_read(message, "uu", &id, &why) < 0) return 0;
    auto const& events = *static_cast<SessionBus::Events*>(data);
    if (events.closed) events.closed(id);
    return 0;
}

}  // namespace

struct SessionBus::Impl {
    std::string address;
    Events events;
    sd_bus* bus = nullptr;

    ~Impl() { close(); }
    void close() { bus = sd_bus_close_unref(bus); }

    int connect() {
        if (address.empty()) return sd_bus_open_user(&bus);
        int result = sd_bus_new(&bus);
        if (result >= 0) result = sd_bus_set_address(bus, address.c_str());
        if (result >= 0) result = sd_bus_set_bus_client(bus, 1);
        return result < 0 ? result : sd_bus_start(bus);
    }
    int subscribe() {
        sd_bus_set_method_call_timeout(bus, answer_limit_us);
        int const result =
            sd_bus_match_signal(bus, nullptr, service, path, service, "ActionInvoked", on_action, &events);
        if (result < 0) return result;
        return sd_bus_match_signal(bus, nullptr, service, path, service, "NotificationClosed", on_closed,
                                   &events);
    }
    Attempt failed(int result, Error const& error) {
        auto const system = std::error_code(-result, std::generic_category()).message();
        std::string const said = error.value.message ? error.value.message : system;
        if (sd_bus_error_has_name(&error.value, SD_BUS_ERROR_SERVICE_UNKNOWN) ||
            sd_bus_error_has_name(&error.value, SD_BUS_ERROR_NAME_HAS_NO_OWNER) ||
            std::string_view(error.value.name ? error.value.name : "")
                .starts_with("org.freedesktop.DBus.Error.Spawn."))
            return Attempt::try_again("nothing shows notifications in this desktop session");
        if (!bus || sd_bus_is_open(bus) <= 0) close();
        return Attempt::try_again("the desktop: " + said);
    }
    Message notify(Card const& card, std::uint32_t replaces, int& result) {
        sd_bus_message* raw = nullptr;
        result = sd_bus_message_new_method_call(bus, &raw, service, path, service, "Notify");
        Message message(raw);
        if (result < 0) return message;
        auto const then = [&](int next) { result = result < 0 ? result : next; };
        then(sd_bus_message_append(raw, "susss", "Ingle", replaces, "", card.summary.c_str(),
                                   card.body.c_str()));
        then(sd_bus_message_open_container(raw, 'a', "s"));
        for (auto const& word : card.actions) then(sd_bus_message_append(raw, "s", word.c_str()));
        then(sd_bus_message_close_container(raw));
        then(sd_bus_message_append(raw, "a{sv}i", 1, "urgency", "y", card.urgency, card.expires_ms));
        return message;
    }
};

SessionBus::SessionBus(std::string address) : impl_(std::make_unique<Impl>()) {
    impl_->address = std::move(address);
}
SessionBus::~SessionBus() = default;

void SessionBus::listen(Events events) {
    impl_->events = std::move(events);
}

Attempt SessionBus::reach(Abilities& abilities) {
    Error error;
    if (!impl_->bus) {
        int result = impl_->connect();
        if (result >= 0) result = impl_->subscribe();
        if (result < 0) {
            impl_->close();
            auto const why = std::error_code(-result, std::generic_category()).message();
            return Attempt::try_again("there is no way to the desktop session's bus: " + why);
        }
    }
    sd_bus_message* raw = nullptr;
    int result =
        sd_bus_call_method(impl_->bus, service, path, service, "GetCapabilities", &error.value, &raw, "");
    Message const reply(raw);
    if (result < 0) return impl_->failed(result, error);
    result = sd_bus_message_enter_container(raw, 'a', "s");
    char const* word = nullptr;
    while (result >= 0 && (result = sd_bus_message_read(raw, "s", &word)) > 0) {
        abilities.actions = abilities.actions || std::string_view(word) == "actions";
        abilities.markup = abilities.markup || std::string_view(word) == "body-markup";
    }
    return result < 0 ? impl_->failed(result, error) : Attempt::delivered();
}

std::string SessionBus::session() const {
    sd_id128_t bus_id{};
    sd_bus_creds* raw = nullptr;
    char text[SD_ID128_STRING_MAX] = {};
    char const* owner = nullptr;
    if (!impl_->bus || sd_bus_get_bus_id(impl_->bus, &bus_id) < 0 ||
        sd_bus_get_name_creds(impl_->bus, service, SD_BUS_CREDS_UNIQUE_NAME, &raw) < 0)
        return {};
    std::unique_ptr<sd_bus_creds, decltype(&sd_bus_creds_unref)> const creds(raw, sd_bus_creds_unref);
    if (sd_bus_creds_get_unique_name(raw, &owner) < 0) return {};
    return sd_id128_to_string(bus_id, text) + std::string(owner);
}

Attempt SessionBus::show(Card const& card, std::uint32_t* id) {
    Error error;
    int result = 0;
    auto const message = impl_->notify(card, *id, result);
    sd_bus_message* raw = nullptr;
    if (result >= 0) result = sd_bus_call(impl_->bus, message.get(), answer_limit_us, &error.value, &raw);
    Message const reply(raw);
    if (result >= 0) result = sd_bus_message_read(raw, "u", id);
    return result < 0 ? impl_->failed(result, error) : Attempt::delivered();
}

void SessionBus::show_without_waiting(Card const& card, std::uint32_t id) {
    if (!open()) return;
    int result = 0;
    auto const message = impl_->notify(card, id, result);
    if (result < 0) return;
    sd_bus_message_set_expect_reply(message.get(), 0);
    sd_bus_send(impl_->bus, message.get(), nullptr);
    sd_bus_flush(impl_->bus);
}

void SessionBus::withdraw(std::uint32_t id) {
    if (open())
        sd_bus_call_method_async(impl_->bus, nullptr, service, path, service, "CloseNotification", nullptr,
                                 nullptr, "u", id);
}

void SessionBus::process() {
    int result = 1;
    while (impl_->bus && result > 0) result = sd_bus_process(impl_->bus, nullptr);
    if (result < 0) impl_->close();  // it went; the next notice opens it anew
}

bool SessionBus::open() const {
    return impl_->bus != nullptr;
}
int SessionBus::fd() const {
    return impl_->bus ? sd_bus_get_fd(impl_->bus) : -1;
}
short SessionBus::events() const {
    return static_cast<short>(impl_->bus ? std::max(sd_bus_get_events(impl_->bus), 0) : 0);
}

int SessionBus::timeout_ms(int longest) const {
    std::uint64_t until = UINT64_MAX;
    if (!impl_->bus || sd_bus_get_timeout(impl_->bus, &until) < 0 || until == UINT64_MAX) return longest;
    timespec now{};
    clock_gettime(CLOCK_MONOTONIC, &now);
    auto const now_us =
        static_cast<std::uint64_t>(now.tv_sec) * 1'000'000 + static_cast<std::uint64_t>(now.tv_nsec) / 1000;
    auto const left = until > now_us ? (until - now_us) / 1000 + 1 : 0;
    return static_cast<int>(std::min<std::uint64_t>(left, static_cast<std::uint64_t>(longest)));
}

}  // namespace ingle::desktop
