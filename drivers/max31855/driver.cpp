// MAX31855 thermocouple chips, on GPIO lines or spidev.
#include <array>

#include "drivers/bus/polling.hpp"
#include "drivers/bus/spi.hpp"
#include "drivers/thermocouple/chip_words.hpp"

namespace ingle {
namespace {

constexpr std::string_view types_made[] = {"E", "J", "K", "N", "R", "S", "T"};
constexpr OptionInfo options[] = {
    spi_option::chip,
    spi_option::clock,
    spi_option::data,
    spi_option::select,
    spi_option::spi,
    {"type", OptionKind::text, true, "", types_made, 0, 0,
     "type of the chip and its thermocouple, the letter of the part"},
};
constexpr Span conversion{100};  // choosing the chip sooner stops a conversion and gives the old value again

class Max31855 final : public PolledDevice {
public:
    Max31855(SpiBus bus, std::vector<ThermocoupleType> types)
        : bus_(std::move(bus)), types_(std::move(types)), last_(types_.size()) {}

    Polled read(std::size_t probe) override {
        auto const now = BootClock::now();
        if (last_[probe] && now - *last_[probe] < conversion) return {};
        last_[probe] = now;
        auto const answer = bus_.exchange(probe, std::array<std::uint8_t, 4>{});
        if (auto const* fault = std::get_if<Fault>(&answer))
            return {Reading{now, *fault, {}, {}, false}, {}, {}};
        std::uint32_t word = 0;
        for (auto const byte : std::get<SpiBus::Bytes>(answer)) word = (word << 8) | byte;
        return {decode_max31855(word, types_[probe], now), {}, {}};
    }

private:
    SpiBus bus_;
    std::vector<ThermocoupleType> types_;
    std::vector<std::optional<Instant>> last_;
};

std::shared_ptr<Driver> make(DriverContext context, std::vector<ProbeWiring> probes) {
    std::vector<SpiWiring> wiring;
    std::vector<ThermocoupleType> types;
    for (auto const& probe : probes) {
        wiring.push_back(spi_wiring(probe, false));
        types.push_back(thermocouple_type_from(probe.options.text("type")).value_or(ThermocoupleType::K));
    }
    auto device = std::make_unique<Max31855>(SpiBus(std::move(wiring), SpiMode::mode0), std::move(types));
    return std::make_shared<PollingDriver>(std::move(context), std::move(probes), std::move(device));
}

}  // namespace

extern DriverInfo const max31855_driver;
DriverInfo const max31855_driver{"max31855", "MAX31855 thermocouple chips, on GPIO lines or spidev", options,
                                 spi_option::shared, make};

}  // namespace ingle
