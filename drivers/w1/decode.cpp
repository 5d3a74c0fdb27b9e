#include "drivers/w1/decode.hpp"

#include <algorithm>
#include <charconv>
#include <cmath>
#include <string>

namespace ingle {
namespace {

using Scratchpad = std::array<std::uint8_t, 9>;
constexpr std::string_view families[] = {"10", "22", "28", "3b", "42"};
constexpr double lowest = -55.0, highest = 125.0;  // degC, the sensor's range
constexpr int not_powered_code = 0x07FF;           // 127.9375
constexpr int power_on_code = 0x0550;              // 85.0000
constexpr std::uint8_t no_conversion_mark = 0x0C;  // byte 6 before the first conversion

std::optional<int> hex_digit(char c) {
    if (c >= '0' && c <= '9') return c - '0';
    if (c >= 'a' && c <= 'f') return c - 'a' + 10;
    return std::nullopt;
}

std::optional<Scratchpad> nine_bytes(std::string_view line) {
    Scratchpad bytes{};
    for (std::size_t i = 0; i < bytes.size(); ++i) {
        if (line.size() < i * 3 + 2 || (i > 0 && line[i * 3 - 1] != ' ')) return std::nullopt;
        auto const high = hex_digit(line[i * 3]), low = hex_digit(line[i * 3 + 1]);
        if (!high || !low) return std::nullopt;
        bytes[i] = static_cast<std::uint8_t>(*high * 16 + *low);
    }
    return bytes;
}

std::optional<long> milli_celsius(std::string_view line) {
    auto const at = line.find("t=");
    if (at == std::string_view::npos) return std::nullopt;
    auto const text = line.substr(at + 2);
    long value = 0;
    auto const [end, error] = std::from_chars(text.data(), text.data() + text.size(), value);
    auto const rest = std::string_view(end, static_cast<std::size_t>(text.data() + text.size() - end));
    if (error != std::errc() || rest.find_first_not_of(" \r\n") != std::string_view::npos)
        return std::nullopt;
    return value;
}

Fault garbled(std::string reason) {
    return {FaultKind::garbled, std::move(reason)};
}

}  // namespace

std::uint8_t w1_crc8(std::span<std::uint8_t const> bytes) {
    unsigned crc = 0;
    for (unsigned byte : bytes)
        for (int bit = 0; bit < 8; ++bit, byte >>= 1) {
            bool const flip = ((crc ^ byte) & 1) != 0;
            crc >>= 1;
            if (flip) crc ^= 0x8C;
        }
    return static_cast<std::uint8_t>(crc);
}

bool is_w1_id(std::string_view id) {
    return id.size() == 15 && id[2] == '-' &&
           std::ranges::find(families, id.substr(0, 2)) != std::end(families) &&
           std::ranges::all_of(id.substr(3), [](char c) { return hex_digit(c).has_value(); });
}

std::variant<W1Sample, Fault> decode_w1_slave(std::string_view text, std::string_view family) {
    if (text.find_first_not_of(" \n") == std::string_view::npos)
        return Fault{FaultKind::no_reply, "the sensor did not answer (its file is empty)"};
    auto const split = text.find('\n');
    auto const first = text.substr(0, split);
    auto const second = split == std::string_view::npos ? std::string_view() : text.substr(split + 1);
    auto const bytes = nine_bytes(first);
    if (!bytes) return garbled("the sensor's file does not begin with nine bytes");
    if (first.find(" YES") == std::string_view::npos)
        return garbled("the checksum failed (the number beside it is an old one or nonsense)");
    if (w1_crc8(std::span(*bytes).first(8)) != (*bytes)[8])
        return garbled("the checksum does not fit the bytes");
    if (std::ranges::all_of(*bytes, [](auto byte) { return byte == 0; }))
        return Fault{FaultKind::no_reply, "all bytes are zero: the data line is shorted to ground"};
    auto const retained = nine_bytes(second);
    auto const milli = milli_celsius(second);
    if (!retained || !milli) return garbled("the sensor's file ends before the temperature");
    if (*retained != *bytes)
        return Fault{FaultKind::stale, "the temperature belongs to an earlier conversion"};
    int const code = static_cast<std::int16_t>(static_cast<std::uint16_t>((*bytes)[0] | ((*bytes)[1] << 8)));
    double celsius = static_cast<double>(*milli) / 1000.0;
    bool could_be_power_on = false;
    if (family != "10") {  // the DS18S20 counts in halves and has its own power-on code
        celsius = code / 16.0;
        if (std::abs(celsius * 1000.0 - static_cast<double>(*milli)) >= 1.0)
            return garbled("the temperature is not what the bytes say");
        if (code == not_powered_code)
            return Fault{FaultKind::not_powered,
                         "the sensor is not powered properly (127.94 degC): check supply and pull-up"};
        could_be_power_on = code == power_on_code && (*bytes)[6] == no_conversion_mark;
    } else {
        could_be_power_on = *milli == 85'000;
    }
    if (celsius < lowest || celsius > highest)
        return Fault{FaultKind::out_of_range, "outside the sensor's range of -55 to 125 degC"};
    return W1Sample{celsius, could_be_power_on};
}

Reading PowerOnRule::judge(Instant at, W1Sample sample) {
    constexpr double near = 5.0;  // K
    constexpr Span recent{10 * 60 * 1000};
    bool const has_company =
        last_good_ && at - last_at_ <= recent && std::abs(*last_good_ - sample.celsius) <= near;
    if (sample.could_be_power_on && !has_company)
        return Reading::faulty(at, FaultKind::power_on_value,
                               "85 degC is what the sensor shows before its first conversion");
    last_good_ = sample.celsius;
    last_at_ = at;
    return Reading::good(at, sample.celsius);
}

}  // namespace ingle
