// Instruments that send lines of text over a serial port. Opens and times; decode.cpp understands.
#include <algorithm>
#include <stdexcept>

#include "drivers/api/driver.hpp"
#include "drivers/api/pace.hpp"
#include "drivers/api/rhythm.hpp"
#include "drivers/bus/serial.hpp"
#include "drivers/bus/sysfs.hpp"
#include "drivers/bus/tty_names.hpp"
#include "drivers/serial_line/drops.hpp"
#include "drivers/serial_line/source.hpp"

namespace ingle {
namespace {

constexpr std::string_view parities[] = {"none", "even", "odd"};
constexpr std::string_view units[] = {"degC", "degF", "°C", "°F", "K"};
constexpr std::string_view commas[] = {"separator", "decimal"};
constexpr OptionInfo options[] = {
    {"port", OptionKind::device, true, "", {}, 0, 0, "path of the port, best a link under /dev/serial/by-id"},
    {"baud", OptionKind::integer, false, "9600", {}, 300, 4'000'000, "speed in bits per second"},
    {"parity", OptionKind::text, false, "none", parities, 0, 0, "parity of the port"},
    {"channel", OptionKind::text, false, "1", {}, 0, 0, "label of the value in a line, or its place from 1"},
    {"unit", OptionKind::text, false, "", units, 0, 0, "unit of the values, unless each carries its own"},
    {"comma", OptionKind::text, false, "", commas, 0, 0,
     "what a comma between digits means; without it a doubtful one is refused"},
};
constexpr std::string_view shared[] = {"port"};

constexpr int missed_periods = 3;           // silence: this many periods without a reading
constexpr Span closed_is_told_after{3000};  // a short drop of the adapter is bridged
constexpr Span shortest_period{100};

class SerialLine final : public Driver, public SerialListener {
public:
    SerialLine(DriverContext context, std::vector<ProbeWiring> probes, SerialSettings settings,
               SerialSource source)
        : context_(std::move(context)),
          settings_(std::move(settings)),
          source_(std::move(source)),
          last_(probes.size()),
          rhythms_(probes.size()),
          paces_(probes.size()) {
        for (auto& probe : probes) {
            timers_.emplace_back(context_.io);
            probe.every = std::max(probe.every, shortest_period);
        }
        probes_ = std::move(probes);
    }

    void start() override {
        if (port_ || stopping_) return;
        if (auto warning = moving_name_warning(settings_.path); !warning.empty())
            context_.log(Severity::note, std::move(warning));
        auto const self = std::static_pointer_cast<SerialLine>(shared_from_this());
        port_ = std::make_shared<SerialPort>(context_.io, settings_, self);
        auto const now = BootClock::now();
        std::ranges::fill(last_, now);
        port_->start();
        for (std::size_t i = 0; i < probes_.size(); ++i) watch_silence(i);
    }

    void stop() override {
        stopping_ = true;
        for (auto& timer : timers_) timer.cancel();
        if (port_) port_->stop();
    }

    void on_open() override {
        source_.opened();
        if (trouble_) context_.log(Severity::note, settings_.path + ": open again");
        trouble_.reset();
        if (opened_once_)
            event("source-restarted", settings_.path + " " + drops_.back(BootClock::now(), supply_is_low()) +
                                          ". Values count once they settle.");
        opened_once_ = true;
    }

    void on_trouble(Fault why) override {
        context_.log(Severity::trouble, why.reason);
        if (!trouble_) closed_at_ = BootClock::now();
        if (opened_once_) drops_.lost(closed_at_);
        trouble_ = std::move(why);
    }

    void on_bytes(Instant at, std::string_view bytes) override {
        auto heard = source_.bytes(at, bytes);
        for (auto& [name, text] : heard.events) event(name, std::move(text));
        for (auto& [index, reading] : heard.readings) {
            if (stopping_) return;
            last_[index] = at;
            rhythms_[index].heard(at);
            if (!paces_[index].takes(at, probes_[index].every)) continue;
            context_.sink.on_reading(probes_[index].number, std::move(reading));
        }
    }

private:
    void event(std::string_view name, std::string text) {
        if (!stopping_) context_.sink.on_driver_event(probes_.front().number, name, std::move(text));
    }

    void watch_silence(std::size_t index) {
        auto& timer = timers_[index];
        timer.expires_after(probes_[index].every);
        timer.async_wait([self = shared_from_this(), this, index](boost::system::error_code error) {
            if (error || stopping_) return;
            auto const now = BootClock::now();
            auto const every = probes_[index].every;
            auto const limit = rhythms_[index].between(every) * missed_periods;
            if (trouble_) {
                if (now - closed_at_ >= std::min(every * missed_periods, closed_is_told_after))
                    give(index, now, *trouble_);
            } else if (now - last_[index] >= limit && opened_once_) {
                give(index, now, source_.silence(index, now, limit));
            }
            if (!stopping_) watch_silence(index);
        });
    }

    void give(std::size_t index, Instant now, Fault fault) {
        context_.sink.on_reading(probes_[index].number, Reading{now, std::move(fault), {}, {}, false});
    }

    DriverContext context_;
    std::vector<ProbeWiring> probes_;
    SerialSettings settings_;
    SerialSource source_;
    std::shared_ptr<SerialPort> port_;
    std::vector<boost::asio::steady_timer> timers_;
    std::vector<Instant> last_;  // when each probe last had a reading from the source
    std::vector<Rhythm> rhythms_;
    std::vector<Pace> paces_;
    std::optional<Fault> trouble_;  // why the port is closed
    Instant closed_at_{};
    Drops drops_;
    bool opened_once_ = false, stopping_ = false;
};

std::shared_ptr<Driver> make(DriverContext context, std::vector<ProbeWiring> probes) {
    auto const& first = probes.front().options;
    SerialSettings settings;
    settings.path = first.text("port");
    auto const baud = first.integer("baud", 9600);
    auto const parity = first.text("parity", "none");
    auto const comma = first.text("comma");
    if (!is_serial_speed(static_cast<unsigned>(baud)))
        throw std::runtime_error(settings.path + ": " + std::to_string(baud) +
                                 " is no speed of a serial port; usual are 9600 and 115200");
    settings.baud = static_cast<unsigned>(baud);
    settings.parity = parity == "even" ? Parity::even : parity == "odd" ? Parity::odd : Parity::none;
    std::vector<SourceChannel> channels;
    for (auto const& probe : probes) {
        auto const& own = probe.options;
        if (own.integer("baud", 9600) != baud || own.text("parity", "none") != parity ||
            own.text("comma") != comma)
            throw std::runtime_error("probes \"" + probes.front().name + "\" and \"" + probe.name +
                                     "\" share " + settings.path + " but differ in baud, parity or comma");
        auto const channel = own.text("channel", "1");
        for (std::size_t i = 0; i < channels.size(); ++i)
            if (channels[i].name == channel)
                throw std::runtime_error("probes \"" + probes[i].name + "\" and \"" + probe.name +
                                         "\" both read channel " + channel + " of " + settings.path);
        channels.push_back({channel, text_unit_from(own.text("unit"))});
    }
    SerialSource source(std::move(channels), comma_from(comma).value_or(Comma::careful));
    return std::make_shared<SerialLine>(std::move(context), std::move(probes), std::move(settings),
                                        std::move(source));
}

std::vector<Found> find(std::string const& root) {
    std::vector<Found> found;
    for (auto& name : serial_names(root)) {
        auto const now = name.also.empty() ? "" : " (" + name.also.front() + " now)";
        found.push_back({"serial port" + now + "; for modbus too", {{"port", name.stable, name.also}}});
    }
    return found;
}

}  // namespace

extern DriverInfo const serial_line_driver;  // const would be local without it
DriverInfo const serial_line_driver{
    "serial-line", "instruments that send lines of text over a serial port", options, shared, make, find};

}  // namespace ingle
