// Transmitters on a Modbus line, RTU or TCP. decode.cpp knows what registers mean, line.cpp asks for them.
#include <algorithm>
#include <map>
#include <stdexcept>

#include "drivers/bus/polling.hpp"
#include "drivers/bus/serial.hpp"
#include "drivers/modbus/decode.hpp"
#include "drivers/modbus/line.hpp"

namespace ingle {
namespace {

constexpr std::string_view parities[] = {"none", "even", "odd"};
constexpr std::string_view formats[] = {"int16", "uint16", "int32", "uint32", "float32"};
constexpr std::string_view orders[] = {"ABCD", "CDAB", "BADC", "DCBA"};
constexpr std::string_view units[] = {"degC", "degF", "°C", "°F", "K"};
constexpr OptionInfo options[] = {
    {"port", OptionKind::device, false, "", {}, 0, 0, "RTU: path of the serial port"},
    {"baud", OptionKind::integer, false, "9600", {}, 300, 4'000'000, "RTU: speed in bits per second"},
    {"parity", OptionKind::text, false, "even", parities, 0, 0, "RTU: parity; none comes with two stop bits"},
    {"host", OptionKind::text, false, "", {}, 0, 0, "TCP: name or address, with :port if it is not 502"},
    {"address", OptionKind::integer, true, "", {}, 1, 247, "number of the unit"},
    {"function", OptionKind::integer, false, "4", {}, 3, 4, "3 reads holding registers, 4 input registers"},
    {"register", OptionKind::integer, true, "", {}, 0, 65535, "first register, counted from 0"},
    {"format", OptionKind::text, true, "", formats, 0, 0, "what the register holds"},
    {"word-order", OptionKind::text, false, "ABCD", orders, 0, 0,
     "of 32 bits; 100.0 comes as 42C8 0000 (ABCD) or 0000 42C8 (CDAB)"},
    {"scale", OptionKind::number, false, "1", {}, 0, 0, "degrees per count, such as 0.1"},
    {"unit", OptionKind::text, true, "", units, 0, 0, "unit of the value"},
    {"fault-values",
     OptionKind::integers,
     false,
     "",
     {},
     0,
     0,
     "counts that stand for a fault, such as 32767"},
};
constexpr std::string_view shared[] = {"port", "host"};

struct Register {
    int unit = 1, function = 4, first = 0;
    RegisterMeaning meaning;
};

// A unit that is off would take a second and a half of every turn from the others on its line.
constexpr int missed_before_rest = 2;
constexpr Span rest{10'000};

class ModbusDevice final : public PolledDevice {
public:
    ModbusDevice(ModbusPlace place, std::vector<Register> registers)
        : line_(std::move(place)), registers_(std::move(registers)) {
        alone_ = std::ranges::all_of(registers_,
                                     [&](Register const& r) { return r.unit == registers_.front().unit; });
    }

    Polled read(std::size_t probe) override {
        auto const& wanted = registers_[probe];
        auto& silence = silences_[wanted.unit];
        if (!alone_ && silence.missed > 0 && BootClock::now() < silence.ask_at)
            return {Reading::faulty(BootClock::now(), FaultKind::no_reply,
                                    "unit " + std::to_string(wanted.unit) +
                                        " does not answer; it is asked again within 10 s"),
                    {},
                    {}};
        auto answer =
            line_.read(wanted.unit, wanted.function, wanted.first, register_count(wanted.meaning.format));
        auto const now = BootClock::now();
        auto const* const wrong = std::get_if<Fault>(&answer);
        silence.missed = wrong && wrong->kind == FaultKind::no_reply ? silence.missed + 1 : 0;
        silence.ask_at =
            now + (silence.missed < missed_before_rest ? Span(ModbusLine::longest_answer_ms) : rest);
        if (auto* fault = std::get_if<Fault>(&answer))
            return {Reading{now, std::move(*fault), {}, {}, false}, {}, {}};
        auto const& words = std::get<std::vector<std::uint16_t>>(answer);
        std::uint32_t raw = 0;
        for (auto const word : words) raw = (raw << 16) | word;
        return {Reading{now, decode_registers(words, wanted.meaning), {}, raw, false}, {}, {}};
    }

    Span longest_wait() const override { return Span(ModbusLine::longest_read_ms + 500); }

private:
    struct Silence {
        int missed = 0;
        Instant ask_at{};
    };
    ModbusLine line_;
    std::vector<Register> registers_;
    bool alone_ = false;  // one unit on this line: it costs nobody anything
    std::map<int, Silence> silences_;
};

Register register_of(Options const& own) {
    Register wanted;
    wanted.unit = static_cast<int>(own.integer("address", 1));
    wanted.function = static_cast<int>(own.integer("function", 4));
    wanted.first = static_cast<int>(own.integer("register"));
    wanted.meaning.format = register_format_from(own.text("format", "int16")).value_or(RegisterFormat::int16);
    wanted.meaning.order = word_order_from(own.text("word-order", "ABCD")).value_or(WordOrder::abcd);
    wanted.meaning.scale = own.number("scale", 1.0);
    wanted.meaning.unit = text_unit_from(own.text("unit")).value_or(TextUnit::celsius);
    wanted.meaning.fault_values = own.integers("fault-values");
    return wanted;
}

std::shared_ptr<Driver> make(DriverContext context, std::vector<ProbeWiring> probes) {
    auto const& first = probes.front();
    ModbusPlace place;
    place.port = first.options.text("port");
    place.baud = static_cast<int>(first.options.integer("baud", 9600));
    auto const parity = first.options.text("parity", "even");
    place.parity = parity == "none" ? 'N' : parity == "odd" ? 'O' : 'E';
    place.host = first.options.text("host");
    if (place.port.empty() == place.host.empty())
        throw std::runtime_error("probe \"" + first.name + "\": give either port (RTU) or host (TCP)");
    if (!place.port.empty() && !is_serial_speed(static_cast<unsigned>(place.baud)))
        throw std::runtime_error("probe \"" + first.name + "\": " + std::to_string(place.baud) +
                                 " is no speed of a serial port; usual are 9600 and 19200");
    auto const colon = place.host.rfind(':');
    if (colon != std::string::npos && place.host.find(':') == colon) {  // an IPv6 address has several
        place.service = place.host.substr(colon + 1);
        place.host.resize(colon);
    }
    std::vector<Register> registers;
    for (auto const& probe : probes) {
        auto const& own = probe.options;
        if (own.integer("baud", 9600) != place.baud || own.text("parity", "even") != parity)
            throw std::runtime_error("probes \"" + first.name + "\" and \"" + probe.name + "\" share " +
                                     place.port + " but differ in baud or parity");
        registers.push_back(register_of(own));
    }
    auto device = std::make_unique<ModbusDevice>(std::move(place), std::move(registers));
    return std::make_shared<PollingDriver>(std::move(context), std::move(probes), std::move(device));
}

}  // namespace

extern DriverInfo const modbus_driver;
DriverInfo const modbus_driver{"modbus", "transmitters on a Modbus line, RTU or TCP", options, shared, make};

}  // namespace ingle
