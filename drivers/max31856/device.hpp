// MAX31856 chips on one bus: set up where they are not, and read, in continuous or one-shot mode. Device
// threads only.
#pragma once

#include <cstdint>
#include <functional>
#include <optional>
#include <span>
#include <variant>
#include <vector>

#include "drivers/bus/polling.hpp"
#include "drivers/max31856/setup.hpp"

namespace ingle {

class Max31856Device final : public PolledDevice {
public:
    // Sends these bytes to a chip and gives what came back meanwhile.
    using Exchange = std::function<std::variant<std::vector<std::uint8_t>, Fault>(
        std::size_t chip, std::span<std::uint8_t const> out)>;

    Max31856Device(Exchange exchange, std::vector<Max31856Setup> wanted)
        : exchange_(std::move(exchange)),
          wanted_(std::move(wanted)),
          ready_at_(wanted_.size()),
          just_set_up_(wanted_.size()) {}

    Polled read(std::size_t probe) override;

private:
    std::optional<Fault> send(std::size_t probe, std::span<std::uint8_t const> out);
    Polled continuous(std::size_t probe, Instant now, std::span<std::uint8_t const> registers);
    Polled one_shot(std::size_t probe, Instant now, std::span<std::uint8_t const> registers);

    Exchange exchange_;
    std::vector<Max31856Setup> wanted_;
    std::vector<std::optional<Instant>> ready_at_;  // of the first value, or of the one that was asked for
    std::vector<bool> just_set_up_;                 // at the last look
};

}  // namespace ingle
