// MAX6675 thermocouple chips (type K), on GPIO lines or spidev.
#include <array>

#include "drivers/bus/polling.hpp"
#include "drivers/bus/spi.hpp"
#include "drivers/thermocouple/chip_words.hpp"

namespace ingle {
namespace {

constexpr std::string_view types_made[] = {"K"};
constexpr OptionInfo options[] = {
    spi_option::chip,
    spi_option::clock,
    spi_option::data,
    spi_option::select,
    spi_option::spi,
    {"type", OptionKind::text, true, "", types_made, 0, 0, "this chip is made for type K only"},
};
constexpr Span conversion{220};  // choosing the chip sooner stops a conversion and gives the old value again
constexpr double near_zero = 2.0;  // degC: from here an all-zero word can be 0 degC
constexpr Span recent{60'000};

class Max6675 final : public PolledDevice {
public:
    Max6675(SpiBus bus, std::size_t probes) : bus_(std::move(bus)), chips_(probes) {}

    Polled read(std::size_t probe) override {
        auto& chip = chips_[probe];
        auto const now = BootClock::now();
        if (chip.read_at && now - *chip.read_at < conversion) return {};
        chip.read_at = now;
        auto const answer = bus_.exchange(probe, std::array<std::uint8_t, 2>{});
        if (auto const* fault = std::get_if<Fault>(&answer))
            return {Reading{now, *fault, {}, {}, false}, {}, {}};
        auto const& bytes = std::get<SpiBus::Bytes>(answer);
        auto const word = static_cast<std::uint16_t>((bytes[0] << 8) | bytes[1]);
        auto reading = decode_max6675(word, now);
        if (max6675_doubtful(word) && !(chip.cold_at && now - *chip.cold_at <= recent))
            reading.value = Fault{FaultKind::out_of_range,
                                  "all zeros: 0 degC or colder, the wires are reversed, or no chip answers"};
        else if (reading.ok() && reading.celsius() <= near_zero)
            chip.cold_at = now;
        return {std::move(reading), {}, {}};
    }

private:
    struct Chip {
        std::optional<Instant> read_at, cold_at;  // cold: when it was last believed near 0 degC
    };
    SpiBus bus_;
    std::vector<Chip> chips_;
};

std::shared_ptr<Driver> make(DriverContext context, std::vector<ProbeWiring> probes) {
    std::vector<SpiWiring> wiring;
    for (auto const& probe : probes) {
        wiring.push_back(spi_wiring(probe, false));
    }
    auto device =
        std::make_unique<Max6675>(SpiBus(std::move(wiring), SpiMode::mode0, context.commons), probes.size());
    return std::make_shared<PollingDriver>(std::move(context), std::move(probes), std::move(device));
}

}  // namespace

extern DriverInfo const max6675_driver;
DriverInfo const max6675_driver{"max6675", "MAX6675 thermocouple chips (type K), on GPIO lines or spidev",
                                options, spi_option::shared, make};

}  // namespace ingle
