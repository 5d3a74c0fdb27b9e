// ingle calc emf, temperature, word.
#include <memory>

#include "config/quantity.hpp"
#include "drivers/thermocouple/chip_words.hpp"
#include "drivers/thermocouple/its90.hpp"
#include "tools/cli/calc/calc.hpp"
#include "tools/cli/output/text.hpp"

namespace ingle::cli {
namespace {

struct Options {
    std::string type, at, number, cold_junction, chip, hex;
    bool json = false;
};

ThermocoupleType type_of(std::string const& text) {
    auto const type = thermocouple_type_from(text);
    if (!type)
        throw Failure("\"" + text + "\" is no thermocouple type; one of B, E, J, K, N, R, S, T", wrong_usage);
    return *type;
}

double number_of(std::string const& text, char const* option) {
    double value = 0;
    if (!parse_number(text, value)) {
        throw Failure(std::string(option) + ": \"" + text + "\" is not a number", wrong_usage);
    }
    return value;
}

int emf(Context& context, Options const& given) {
    auto const type = type_of(given.type);
    if (given.at.empty() == given.number.empty())
        throw Failure("say the temperature of the hot end once, such as --at \"212 degF\"", wrong_usage);
    auto const millivolts = emf_mv(
        type, given.at.empty() ? number_of(given.number, "--celsius")
                               : quantity_of<Temperature>(given.at, "--at", parse_temperature).celsius);
    if (!millivolts) {
        auto const range = emf_range(type);
        throw Failure("type " + std::string(1, letter_of(type)) + " is defined from " +
                      decimal_text(range.low, 1) + " to " + decimal_text(range.high, 1) + " degC");
    }
    return answer(context, given.json, {{"millivolts", *millivolts}}, decimal_text(*millivolts, 4) + " mV");
}

int temperature(Context& context, Options const& given) {
    auto const type = type_of(given.type);
    auto const millivolts = number_of(given.number, "--millivolts");
    double junction = 0;
    if (!given.cold_junction.empty()) {
        junction =
            quantity_of<Temperature>(given.cold_junction, "--cold-junction", parse_temperature).celsius;
    }
    auto const hot =
        given.cold_junction.empty() ? celsius(type, millivolts) : compensate(type, millivolts, junction);
    if (!hot) {
        auto const range = celsius_range(type);
        throw Failure("no temperature of type " + std::string(1, letter_of(type)) +
                      " gives that voltage; it is defined from " + decimal_text(range.low, 1) + " to " +
                      decimal_text(range.high, 1) + " degC");
    }
    return answer(context, given.json, {{"celsius", *hot}},
                  show(Temperature{*hot}, TemperatureUnit::celsius, 2) + " = " +
                      show(Temperature{*hot}, TemperatureUnit::fahrenheit, 2));
}

std::vector<std::uint8_t> bytes_of(std::string text) {
    if (text.starts_with("0x") || text.starts_with("0X")) text.erase(0, 2);
    std::erase_if(text, [](char c) { return c == ' ' || c == '_'; });
    std::vector<std::uint8_t> bytes;
    auto const digit = [&](char c) -> unsigned {
        if (c >= '0' && c <= '9') return static_cast<unsigned>(c - '0');
        if (c >= 'a' && c <= 'f') return static_cast<unsigned>(c - 'a' + 10);
        if (c >= 'A' && c <= 'F') return static_cast<unsigned>(c - 'A' + 10);
        throw Failure("\"" + text + "\" is no hexadecimal word", wrong_usage);
    };
    if (text.empty() || text.size() % 2 != 0) {
        throw Failure("write whole bytes, two hexadecimal digits each, such as 01900190", wrong_usage);
    }
    for (std::size_t i = 0; i < text.size(); i += 2) {
        bytes.push_back(static_cast<std::uint8_t>(digit(text[i]) * 16 + digit(text[i + 1])));
    }
    return bytes;
}

std::uint32_t word_of(std::vector<std::uint8_t> const& bytes, std::size_t wanted, char const* chip) {
    if (bytes.size() != wanted) {
        throw Failure(std::string("a word of the ") + chip + " has " + std::to_string(wanted * 2) +
                          " hexadecimal digits",
                      wrong_usage);
    }
    std::uint32_t word = 0;
    for (auto const byte : bytes) word = word << 8 | byte;
    return word;
}

int word(Context& context, Options const& given) {
    auto const bytes = bytes_of(given.hex);
    Reading reading;
    if (given.chip == "max31855") {
        std::optional<ThermocoupleType> type;
        if (!given.type.empty()) type = type_of(given.type);
        reading = decode_max31855(word_of(bytes, 4, "MAX31855"), type, Instant{});
    } else if (given.chip == "max6675") {
        reading = decode_max6675(static_cast<std::uint16_t>(word_of(bytes, 2, "MAX6675")), Instant{});
    } else {
        if (bytes.size() != 6 && bytes.size() != 16) {
            throw Failure("of the MAX31856 give registers 0Ah to 0Fh (12 digits) or 00h to 0Fh (32 digits)",
                          wrong_usage);
        }
        reading = decode_max31856(bytes, Instant{});
    }
    Json data{{"celsius", nullptr},
              {"cold_junction", json_number(reading.cold_junction)},
              {"fault", nullptr},
              {"reason", nullptr}};
    std::string sentence;
    if (reading.ok()) {
        data["celsius"] = reading.celsius();
        sentence = show(Temperature{reading.celsius()}, TemperatureUnit::celsius, 2) + " = " +
                   show(Temperature{reading.celsius()}, TemperatureUnit::fahrenheit, 2);
    } else {
        data["fault"] = to_word(reading.fault().kind);
        data["reason"] = reading.fault().reason;
        sentence = "no value: " + reading.fault().reason;
    }
    if (reading.cold_junction) {
        sentence +=
            ", cold junction " + show(Temperature{*reading.cold_junction}, TemperatureUnit::celsius, 2);
    }
    return answer(context, given.json, data, sentence);
}

}  // namespace

void add_calc_thermocouple(Verb const& calc, Context& context) {
    auto const given = std::make_shared<Options>();
    auto const run = [&context, given](int (*function)(Context&, Options const&)) {
        return [&context, given, function] { return function(context, *given); };
    };
    auto command = calc.verb("emf", "voltage of a thermocouple (ITS-90), reference junction at 0 degC",
                             "  ingle calc emf --type K --at \"212 degF\"");
    command.required("--type", given->type, "B, E, J, K, N, R, S or T");
    command.option("--at", given->at, "temperature of the hot end, such as \"212 degF\"");
    command.option("--celsius", given->number, "the same as a number of degC");
    command.flag("--json", given->json, "answer in JSON");
    command.does(run(emf));

    command = calc.verb("temperature", "temperature of a thermocouple's hot end (ITS-90)",
                        "  ingle calc temperature --type K --millivolts 4.096 --cold-junction \"25 degC\"");
    command.required("--type", given->type, "B, E, J, K, N, R, S or T");
    command.required("--millivolts", given->number, "measured voltage");
    command.option("--cold-junction", given->cold_junction, "where the wire meets the board; else 0 degC");
    command.flag("--json", given->json, "answer in JSON");
    command.does(run(temperature));

    command = calc.verb("word", "what a thermocouple chip's word means",
                        "  ingle calc word --chip max31855 --type K 06400190");
    command.one_of("--chip", given->chip, {"max31855", "max6675", "max31856"},
                   "max31855, max6675 or max31856");
    command.required("HEX", given->hex, "the word as it came over the wire");
    command.option("--type", given->type, "undo the MAX31855's straight line for this type");
    command.flag("--json", given->json, "answer in JSON");
    command.does(run(word));
}

}  // namespace ingle::cli
