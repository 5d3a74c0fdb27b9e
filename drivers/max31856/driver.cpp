// MAX31856 thermocouple chips, all types, on GPIO lines or spidev.
#include "drivers/bus/spi.hpp"
#include "drivers/max31856/device.hpp"

namespace ingle {
namespace {

constexpr std::string_view types_made[] = {"B", "E", "J", "K", "N", "R", "S", "T"};
constexpr std::string_view modes[] = {"continuous", "one-shot"};
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
    {"mode", OptionKind::text, false, "continuous", modes, 0, 0,
     "continuous, or one-shot: the chip rests between two readings"},
};

std::shared_ptr<Driver> make(DriverContext context, std::vector<ProbeWiring> probes) {
    std::vector<SpiWiring> wiring;
    std::vector<Max31856Setup> wanted;
    for (auto const& probe : probes) {
        auto const& own = probe.options;
        wiring.push_back(spi_wiring(probe, true));
        wanted.push_back(
            max31856_setup(thermocouple_type_from(own.text("type")).value_or(ThermocoupleType::K),
                           own.integer("mains", 50) == 60, static_cast<int>(own.integer("average", 1)),
                           own.text("mode") == "one-shot"));
    }
    auto const bus = std::make_shared<SpiBus>(std::move(wiring), SpiMode::mode1, context.commons);
    auto device = std::make_unique<Max31856Device>(
        [bus](std::size_t chip, std::span<std::uint8_t const> out) { return bus->exchange(chip, out); },
        std::move(wanted));
    return std::make_shared<PollingDriver>(std::move(context), std::move(probes), std::move(device));
}

}  // namespace

extern DriverInfo const max31856_driver;
DriverInfo const max31856_driver{"max31856",
                                 "MAX31856 thermocouple chips of all types, on GPIO lines or spidev", options,
                                 spi_option::shared, make};

}  // namespace ingle
