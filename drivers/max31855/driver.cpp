// MAX31855 thermocouple chips, on GPIO lines or spidev.
#include <array>

#include "drivers/bus/gpio_chips.hpp"
#include "drivers/bus/polling.hpp"
#include "drivers/bus/spi.hpp"
#include "drivers/bus/sysfs.hpp"
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
    auto device = std::make_unique<Max31855>(SpiBus(std::move(wiring), SpiMode::mode0, context.commons),
                                             std::move(types));
    return std::make_shared<PollingDriver>(std::move(context), std::move(probes), std::move(device));
}

// The buses that such a chip may hang on; whether one does, only reading tells.
std::vector<Found> find(std::string const& root) {
    std::vector<Found> found;
    constexpr char const* others = "; for max6675 and max31856 too";
    for (auto const& name : folder_names(root + "/dev"))
        if (name.starts_with("spidev"))
            found.push_back({"SPI bus and select" + std::string(others), {{"spi", "/dev/" + name, {}}}});
    for (auto const& chip : root == "/" ? gpio_chips() : std::vector<GpioChip>{}) {
        if (chip.refused) continue;
        found.push_back({"GPIO chip with " + std::to_string(chip.lines) + " lines (" + chip.path + " now)" +
                             others + ", and for gpio-switch",
                         {{"chip", chip.label, {chip.path}}}});
    }
    return found;
}

}  // namespace

extern DriverInfo const max31855_driver;
DriverInfo const max31855_driver{"max31855", "MAX31855 thermocouple chips, on GPIO lines or spidev",
                                 options,    spi_option::shared,
                                 make,       find};

}  // namespace ingle
