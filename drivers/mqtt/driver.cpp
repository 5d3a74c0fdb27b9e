// Readings of remote nodes through an MQTT broker.
#include <mosquitto.h>

#include <algorithm>
#include <charconv>

#include "drivers/api/driver.hpp"
#include "drivers/api/pace.hpp"
#include "drivers/api/rhythm.hpp"
#include "drivers/api/secret.hpp"
#include "drivers/mqtt/decode.hpp"
#include "drivers/mqtt/link.hpp"

namespace ingle {
namespace {

constexpr std::string_view units[] = {"degC", "degF", "°C", "°F", "K"};
constexpr OptionInfo options[] = {
    {"broker", OptionKind::text, true, "", {}, 0, 0, "host or host:port of the broker"},
    {"user", OptionKind::text, false, "", {}, 0, 0, "user at the broker"},
    {"password-file", OptionKind::secret_file, false, "", {}, 0, 0, "file of the user's password"},
    {"password-env", OptionKind::variable, false, "", {}, 0, 0, "the same, in an environment variable"},
    {"topic", OptionKind::text, true, "", {}, 0, 0, "topic of the readings, without wildcards"},
    {"status", OptionKind::text, false, "", {}, 0, 0, "topic of the sender's last will"},
    {"field", OptionKind::text, false, "", {}, 0, 0, "field of a JSON payload; a.b for one inside another"},
    {"time-field", OptionKind::text, false, "time", {}, 0, 0, "field where the sender says when it measured"},
    {"unit", OptionKind::text, false, "", units, 0, 0, "unit of the values, unless each carries its own"},
};
constexpr std::string_view shared[] = {"broker", "user", "password-file", "password-env"};
constexpr int missed_periods = 3;
constexpr Span shortest_limit{5000};  // networks pause
constexpr Span oldest_at_least{60'000};
constexpr WallTime clock_is_set{
    std::chrono::sys_days{std::chrono::year{2024} / 1 / 1}};  // before: the time is not known

struct RemoteProbe {
    int number = 0;
    std::string name, topic, status;
    Span every{1000};
    MessageMeaning meaning;
};

class MqttDriver final : public Driver {
public:
    MqttDriver(DriverContext context, BrokerPlace place, std::vector<RemoteProbe> probes)
        : context_(std::move(context)),
          place_(std::move(place)),
          probes_(std::move(probes)),
          last_(probes_.size()),
          gone_(probes_.size(), false),
          rhythms_(probes_.size()),
          paces_(probes_.size()),
          thread_(context_.io) {
        for (std::size_t i = 0; i < probes_.size(); ++i) timers_.emplace_back(context_.io);
    }

    void start() override {
        if (std::exchange(started_, true) || stopping_) return;
        std::ranges::fill(last_, BootClock::now());
        auto const weak = weak_from_this();
        thread_.start([place = place_, weak](DeviceThread::Hands const& hands) {
            BrokerEvents events;
            events.message = [&](std::string topic, std::string payload, bool retained) {
                Clocks const now{BootClock::now(), wall_now()};
                hands.post([=] {
                    if (auto const driver = weak.lock())
                        std::static_pointer_cast<MqttDriver>(driver)->message(topic, payload, retained, now);
                });
            };
            events.lost = [&](std::string why) {
                hands.post([=] {
                    if (auto const driver = weak.lock())
                        std::static_pointer_cast<MqttDriver>(driver)->link(why);
                });
            };
            listen_to_broker(hands, place, events);
        });
        for (std::size_t i = 0; i < probes_.size(); ++i) watch_silence(i);
    }

    void stop() override {
        stopping_ = true;
        for (auto& timer : timers_) timer.cancel();
        thread_.stop();
    }

private:
    static std::optional<WallTime> wall_now() {
        auto const now =
            std::chrono::time_point_cast<std::chrono::milliseconds>(std::chrono::system_clock::now());
        return now < clock_is_set ? std::nullopt : std::optional<WallTime>(now);
    }

    void message(std::string const& topic, std::string const& payload, bool retained, Clocks now) {
        for (std::size_t i = 0; i < probes_.size() && !stopping_; ++i) {
            if (topic == probes_[i].status) {
                gone_[i] = says_gone(payload);
                if (gone_[i])
                    give(i, {now.at,
                             Fault{FaultKind::no_reply, "the sender is gone, says its broker"},
                             {},
                             {},
                             false});
            } else if (topic == probes_[i].topic) {
                auto reading = decode_message(payload, retained, probes_[i].meaning, now);
                if (reading.ok()) {
                    last_[i] = now.at;
                    rhythms_[i].heard(now.at);
                }
                if (paces_[i].takes(now.at, probes_[i].every)) give(i, std::move(reading));
            }
        }
    }

    void link(std::string const& why) {
        if (stopping_ || why == lost_) return;
        context_.log(why.empty() ? Severity::note : Severity::trouble,
                     "broker " + place_.host + ": " + (why.empty() ? "connected" : why));
        lost_ = why;
    }

    void give(std::size_t index, Reading reading) {
        context_.sink.on_reading(probes_[index].number, std::move(reading));
    }

    void watch_silence(std::size_t index) {
        timers_[index].expires_after(probes_[index].every);
        timers_[index].async_wait([self = shared_from_this(), this, index](boost::system::error_code error) {
            if (error || stopping_) return;
            auto const now = BootClock::now();
            auto const silent = now - last_[index];
            bool const is_told = !lost_.empty() || gone_[index];  // no rhythm explains that
            auto const every = is_told ? probes_[index].every : rhythms_[index].between(probes_[index].every);
            if (silent >= std::max(every * missed_periods, shortest_limit)) {
                auto const text = !lost_.empty() ? "broker " + place_.host + ": " + lost_
                                  : gone_[index] ? std::string("the sender is gone, says its broker")
                                                 : "no message on " + probes_[index].topic + " for " +
                                                       std::to_string(silent.count() / 1000) + " s";
                give(index, Reading::faulty(now, FaultKind::no_reply, text));
            }
            if (!stopping_) watch_silence(index);
        });
    }

    DriverContext context_;
    BrokerPlace place_;
    std::vector<RemoteProbe> probes_;
    std::vector<Instant> last_;  // when each probe last had a value
    std::vector<bool> gone_;
    std::vector<Rhythm> rhythms_;
    std::vector<Pace> paces_;
    std::vector<boost::asio::steady_timer> timers_;
    std::string lost_ = "not connected yet";
    bool started_ = false, stopping_ = false;
    DeviceThread thread_;
};

BrokerPlace place_of(Options const& own) {
    BrokerPlace place;
    place.host = own.text("broker");
    place.user = own.text("user");
    place.password = secret_place(own, "password");
    auto const colon = place.host.rfind(':');
    if (colon != std::string::npos && place.host.find(':') == colon) {
        auto const digits = place.host.substr(colon + 1);
        auto const [end, error] = std::from_chars(digits.data(), digits.data() + digits.size(), place.port);
        if (error != std::errc() || end != digits.data() + digits.size() || place.port < 1 ||
            place.port > 65535)
            throw WrongOption("broker", "\"" + place.host + "\" is no broker; write host or host:port",
                              "such as \"127.0.0.1:1883\"");
        place.host.resize(colon);
    }
    return place;
}

std::shared_ptr<Driver> make(DriverContext context, std::vector<ProbeWiring> wirings) {
    mosquitto_lib_init();  // counted; the library is never torn down, a thread that hangs may still use it
    auto place = place_of(wirings.front().options);
    std::vector<RemoteProbe> probes;
    for (auto const& wiring : wirings) {
        auto const& own = wiring.options;
        RemoteProbe probe{wiring.number,
                          wiring.name,
                          own.text("topic"),
                          own.text("status"),
                          std::max(wiring.every, Span(100)),
                          {}};
        for (auto const& topic : {probe.topic, probe.status}) {
            if (topic.find_first_of("+#") != std::string::npos)
                throw WrongOption(topic == probe.topic ? "topic" : "status",
                                  "\"" + topic + "\" has a wildcard", "name one topic", wiring.number);
            if (!topic.empty() && std::ranges::find(place.topics, topic) == place.topics.end())
                place.topics.push_back(topic);
        }
        probe.meaning = {own.text("field"), own.text("time-field", "time"), text_unit_from(own.text("unit")),
                         std::max(probe.every * missed_periods, oldest_at_least)};
        probes.push_back(std::move(probe));
    }
    return std::make_shared<MqttDriver>(std::move(context), std::move(place), std::move(probes));
}

}  // namespace

extern DriverInfo const mqtt_driver;
DriverInfo const mqtt_driver{"mqtt", "readings of remote nodes through an MQTT broker", options, shared,
                             make};

}  // namespace ingle
