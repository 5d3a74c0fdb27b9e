#include "drivers/max31856/device.hpp"

#include <array>
#include <string>

#include "drivers/thermocouple/chip_words.hpp"

namespace ingle {
namespace {

constexpr Span look_again{20};  // a conversion that takes longer than the data sheet's longest

Polled faulty(Instant at, FaultKind kind, std::string reason) {
    return {Reading::faulty(at, kind, std::move(reason)), {}, {}};
}

}  // namespace

Polled Max31856Device::read(std::size_t probe) {
    auto const now = BootClock::now();
    std::array<std::uint8_t, 17> ask{};  // from register 0 on; the first byte that comes back is none
    auto const answer = exchange_(probe, ask);
    if (auto const* fault = std::get_if<Fault>(&answer)) return faulty(now, fault->kind, fault->reason);
    auto const& bytes = std::get<std::vector<std::uint8_t>>(answer);
    auto const registers = std::span(bytes).subspan(1);
    if (max31856_silent(registers)) return faulty(now, FaultKind::no_reply, "no chip answers");
    auto const& wanted = wanted_[probe];
    if (!max31856_is_set_up(registers, wanted)) {
        // Fresh from power, or reset by a spike: its number belongs to another type or filter.
        for (auto const& write : max31856_writes(wanted))
            if (auto const wrong = send(probe, write)) return faulty(now, wrong->kind, wrong->reason);
        ready_at_[probe].reset();
        if (!wanted.one_shot) ready_at_[probe] = BootClock::now() + wanted.first_conversion;
        bool const in_vain = just_set_up_[probe];
        just_set_up_[probe] = true;
        if (in_vain)
            return faulty(now, FaultKind::no_reply,
                          "the chip does not keep its settings: look at its data input (mosi) and supply");
        return faulty(now, FaultKind::power_on_value, "the chip was set up anew");
    }
    just_set_up_[probe] = false;
    return wanted.one_shot ? one_shot(probe, now, registers) : continuous(probe, now, registers);
}

Polled Max31856Device::continuous(std::size_t probe, Instant now, std::span<std::uint8_t const> registers) {
    if (ready_at_[probe] && now < *ready_at_[probe]) return {};
    return {decode_max31856(registers, now), {}, {}};
}

// What is asked for now comes within this turn: a value is never a whole period old.
Polled Max31856Device::one_shot(std::size_t probe, Instant now, std::span<std::uint8_t const> registers) {
    auto& ready_at = ready_at_[probe];
    if (!ready_at) {
        if (auto const wrong = send(probe, max31856_ask(wanted_[probe])))
            return faulty(now, wrong->kind, wrong->reason);
        ready_at = BootClock::now() + wanted_[probe].first_conversion;  // sending takes time on a busy board
        return {{}, {}, {}, wanted_[probe].first_conversion};
    }
    if (now < *ready_at) return {{}, {}, {}, *ready_at - now};
    if (!max31856_converting(registers)) {
        ready_at.reset();
        return {decode_max31856(registers, now), {}, {}};
    }
    if (now < *ready_at + wanted_[probe].first_conversion) return {{}, {}, {}, look_again};
    ready_at.reset();
    return faulty(now, FaultKind::no_reply, "the chip was asked for a value and does not come to an end");
}

std::optional<Fault> Max31856Device::send(std::size_t probe, std::span<std::uint8_t const> out) {
    auto const answer = exchange_(probe, out);
    auto const* fault = std::get_if<Fault>(&answer);
    return fault ? std::optional(*fault) : std::nullopt;
}

}  // namespace ingle
