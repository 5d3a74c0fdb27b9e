// MAX31856 thermocouple chips, all types, on GPIO lines or spidev.
#include <array>

#include "drivers/bus/polling.hpp"
#include "drivers/bus/spi.hpp"
#include "drivers/max31856/setup.hpp"
#include "drivers/thermocouple/chip_words.hpp"

namespace ingle {
namespace {

constexpr std::string_view types_made[] = {"B", "E", "J", "K", "N", "R", "S", "T"};
constexpr OptionInfo options[] = {
    spi_option::chip,
    spi_option::clock,
    spi_option::data,
    spi_option::mosi,
    spi_option::select,
    spi_option::spi,
    {"type", OptionKind::text, true, "", types_made, 0, 0, "type of the thermocouple"},
    {"mains",
     OptionKind::integer,
     false,
     "50",
     {},
     50,
     60,
     "hertz of the mains whose hum is filtered out: 50 or 60"},
    {"average", OptionKind::integer, false, "1", {}, 1, 16, "samples averaged in the chip: 1, 2, 4, 8 or 16"},
};

class Max31856 final : public PolledDevice {
public:
    Max31856(SpiBus bus, std::vector<Max31856Setup> wanted)
        : bus_(std::move(bus)), wanted_(std::move(wanted)), ready_at_(wanted_.size()) {}

    Polled read(std::size_t probe) override {
        auto const now = BootClock::now();
        std::array<std::uint8_t, 17> ask{};  // from register 0 on; the first byte that comes back is none
        auto const answer = bus_.exchange(probe, ask);
        if (auto const* fault = std::get_if<Fault>(&answer)) return faulty(now, fault->kind, fault->reason);
        auto const registers = std::span(std::get<SpiBus::Bytes>(answer)).subspan(1);
        if (max31856_silent(registers)) return faulty(now, FaultKind::no_reply, "no chip answers");
        if (!max31856_is_set_up(registers, wanted_[probe])) {
            // Fresh from power, or reset by a spike: its number belongs to another type or filter.
            if (auto const wrong = set_up(probe)) return faulty(now, wrong->kind, wrong->reason);
            ready_at_[probe] = now + wanted_[probe].first_conversion;
            return faulty(now, FaultKind::power_on_value, "the chip was set up anew");
        }
        if (ready_at_[probe] && now < *ready_at_[probe]) return {};
        return {decode_max31856(registers, now), {}, {}};
    }

private:
    static Polled faulty(Instant at, FaultKind kind, std::string reason) {
        return {Reading::faulty(at, kind, std::move(reason)), {}, {}};
    }
    std::optional<Fault> set_up(std::size_t probe) {
        for (auto const& write : max31856_writes(wanted_[probe])) {
            auto const answer = bus_.exchange(probe, write);
            if (auto const* fault = std::get_if<Fault>(&answer)) return *fault;
        }
        return std::nullopt;
    }
    SpiBus bus_;
    std::vector<Max31856Setup> wanted_;
    std::vector<std::optional<Instant>> ready_at_;
};

std::shared_ptr<Driver> make(DriverContext context, std::vector<ProbeWiring> probes) {
    std::vector<SpiWiring> wiring;
    std::vector<Max31856Setup> wanted;
    for (auto const& probe : probes) {
        auto const& own = probe.options;
        wiring.push_back(spi_wiring(probe, true));
        wanted.push_back(
            max31856_setup(thermocouple_type_from(own.text("type")).value_or(ThermocoupleType::K),
                           own.integer("mains", 50) == 60, static_cast<int>(own.integer("average", 1))));
    }
    auto device = std::make_unique<Max31856>(SpiBus(std::move(wiring), SpiMode::mode1), std::move(wanted));
    return std::make_shared<PollingDriver>(std::move(context), std::move(probes), std::move(device));
}

}  // namespace

extern DriverInfo const max31856_driver;
DriverInfo const max31856_driver{"max31856",
                                 "MAX31856 thermocouple chips of all types, on GPIO lines or spidev", options,
                                 spi_option::shared, make};

}  // namespace ingle
