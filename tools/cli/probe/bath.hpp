// What a probe is held against when it is calibrated. Pure; any thread.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "config/settings.hpp"
#include "tools/cli/program/command.hpp"

namespace ingle::cli {

struct Bath {
    std::string words;         // "ice water", "boiling water (99.2 degC at 985 hPa)", "the probe fridge"
    std::string reference;     // a probe's name; "" = `is` is known
    std::optional<double> is;  // degC
    std::string advice;        // how to do it right
};

struct Surroundings {
    std::string probe;                      // the one that is calibrated
    std::vector<std::string> const& names;  // of all probes
    std::string pressure;                   // station pressure as given; "" = the kitchen's, or its altitude
    Settings const& settings;
    TemperatureUnit unit;
};

// "ice", "boiling", a probe's name or a temperature. Throws Failure (wrong usage) with what would be right.
Bath bath_of(std::string const& text, Surroundings const& around);

template <class Q>
Q parsed(std::string const& text, std::string const& key, Parsed<Q> (*parse)(std::string_view)) {
    auto const value = parse(text);
    if (auto const* error = std::get_if<QuantityError>(&value))
        throw Failure(key + ": " + error->wrong + "; " + error->right, wrong_usage);
    return std::get<Q>(value);
}

}  // namespace ingle::cli
