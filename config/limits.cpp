#include "config/limits.hpp"

#include <array>
#include <cmath>

namespace ingle {
namespace {

// In the order of VesselKind. Our own judgement of what such a vessel is used for.
constexpr std::array limits{Limits{{-20}, {260}},  // pot: up to deep frying
                            Limits{{-5}, {110}},   // bath
                            Limits{{0}, {400}},    // smoker
                            Limits{{20}, {550}},   // oven: up to flat bread
                            Limits{{-40}, {20}},   // fridge, freezer, a cool place to hang meat
                            Limits{{20}, {130}},   // hot box
                            Limits{{-40}, {60}}};  // room
constexpr std::array names{"a pot", "a bath", "a smoker", "an oven", "a fridge", "a hot box", "a room"};

// A band that begins higher above the boiling point than this is never reached by water; one that ends higher
// than this above it was not meant for water.
constexpr double low_above_boiling_k = 3, high_above_boiling_k = 15;
// Between cold smoking and hot smoking nobody smokes: there the meat spoils.
constexpr Temperature cold_smoke_most{30}, hot_smoke_least{50};
// An excursion must be a reading before it is a fault; and everything comes from a room.
constexpr double beyond_band_k = 5;
constexpr Temperature room{20};

bool is_wet(VesselSettings const& vessel) {
    return holds_liquid(vessel.kind) && vessel.liquid == Liquid::water;
}

std::string in_words(Band band, TemperatureUnit unit) {
    auto const words = [unit](Temperature t) {
        double const n = to_unit(t, unit);
        return show(t, unit, std::abs(n - std::round(n)) < 1e-6 ? 0 : 1);
    };
    return '"' + words(band.low) + "\" to \"" + words(band.high) + '"';
}

std::optional<BandMistake> outside_limits(Band band, VesselSettings const& vessel, Settings const& kitchen) {
    auto const kind = static_cast<std::size_t>(vessel.kind);
    auto const possible = band_limits(vessel, kitchen);
    auto const& odd = band.high > limits[kind].most ? band.high : band.low;
    if (!limits[kind].contain(odd))
        return BandMistake{both_units(odd) + " is impossible in " + names[kind],
                           "from " + both_units(possible.least) + " to " + both_units(possible.most)};
    if (is_wet(vessel)) {
        double const boiling = rough_boiling_point(kitchen, vessel.salt);
        bool const low = band.low.celsius > boiling + low_above_boiling_k;
        if (low || band.high > possible.most) {
            std::string right = "at most " + both_units(possible.most);
            if (vessel.kind == VesselKind::pot)
                right += "; for frying write liquid = \"fat\", for boiled sugar liquid = \"syrup\"";
            return BandMistake{both_units(low ? band.low : band.high) + " is above the boiling point in " +
                                   names[kind] + ", about " + both_units({std::round(boiling)}),
                               std::move(right)};
        }
    }
    if (vessel.kind == VesselKind::smoker && band.low > cold_smoke_most && band.high < hot_smoke_least)
        return BandMistake{
            both_units(band.low) + " to " + both_units(band.high) +
                " is too warm for cold smoke and too cool for hot smoke",
            "up to " + both_units(cold_smoke_most) + " or from " + both_units(hot_smoke_least)};
    return std::nullopt;
}

bool is_round(Band band, TemperatureUnit unit) {
    auto const near = [&](Temperature t) {
        double const halves = 2 * to_unit(t, unit);
        return std::abs(halves - std::round(halves)) < 1e-6;
    };
    return near(band.low) && near(band.high);
}

// The same numbers in the other unit, if that would be a band for this vessel.
std::optional<std::string> other_unit(Band band, VesselSettings const& vessel, Settings const& kitchen) {
    auto const from_fahrenheit = [](double f) { return Temperature{(f - 32) / 1.8}; };
    Band const as_fahrenheit{from_fahrenheit(band.low.celsius), from_fahrenheit(band.high.celsius)};
    Band const as_celsius{{to_unit(band.low, TemperatureUnit::fahrenheit)},
                          {to_unit(band.high, TemperatureUnit::fahrenheit)}};
    auto const fits = [&](Band other) { return !outside_limits(other, vessel, kitchen); };
    if (is_round(band, TemperatureUnit::celsius) && fits(as_fahrenheit))
        return "did you mean degF? " + in_words(as_fahrenheit, TemperatureUnit::fahrenheit);
    if (is_round(band, TemperatureUnit::fahrenheit) && fits(as_celsius))
        return "did you mean degC? " + in_words(as_celsius, TemperatureUnit::celsius);
    return std::nullopt;
}

std::optional<BandMistake> outside_plausible(Band band, VesselSettings const& vessel,
                                             Settings const& kitchen) {
    auto probes = vessel.more;
    if (vessel.medium >= 0) probes.push_back(vessel.medium);
    Temperature const least{std::min(band.low.celsius - beyond_band_k, room.celsius)};
    Temperature const most{std::max(band.high.celsius + beyond_band_k, room.celsius)};
    for (int const number : probes) {
        auto const& probe = kitchen.probes[static_cast<std::size_t>(number)];
        if (!probe.plausible || (probe.plausible->first <= least && probe.plausible->second >= most))
            continue;
        return BandMistake{
            "the plausible range of the probe \"" + probe.name + "\" is " +
                both_units(probe.plausible->first) + " to " + both_units(probe.plausible->second) +
                ": there the band, or the way to it, would be taken for a fault",
            "from " + both_units(least) + " to " + both_units(most) + " at least, or leave plausible out"};
    }
    return std::nullopt;
}

}  // namespace

std::string both_units(Temperature t) {
    return show(t, TemperatureUnit::fahrenheit) + " (" + show(t, TemperatureUnit::celsius) + ")";
}

double rough_boiling_point(Settings const& kitchen, Fraction salt) {
    // Standard atmosphere (ISO 2533); Clausius and Clapeyron with 40.66 kJ/mol; salt by its molality.
    constexpr double sea_level_pa = 101'325, gas_over_heat = 8.314 / 40'660;
    double const height = kitchen.altitude ? kitchen.altitude->metres : 0;
    double const pascals = kitchen.pressure ? kitchen.pressure->pascals
                                            : sea_level_pa * std::pow(1 - 2.25577e-5 * height, 5.25588);
    double const kelvin = 1 / (1 / 373.12 - gas_over_heat * std::log(pascals / sea_level_pa));
    double const molal = salt.value / (1 - salt.value) / 0.05844;
    return kelvin - 273.15 + 1.0 * molal;
}

Limits band_limits(VesselSettings const& vessel, Settings const& kitchen) {
    auto possible = limits[static_cast<std::size_t>(vessel.kind)];
    if (is_wet(vessel))
        possible.most.celsius =
            std::min(possible.most.celsius,
                     std::round(rough_boiling_point(kitchen, vessel.salt) + high_above_boiling_k));
    return possible;
}

std::optional<BandMistake> mistake_in_band(Band band, VesselSettings const& vessel, Settings const& kitchen) {
    if (band.low.celsius == band.high.celsius)
        return BandMistake{"both ends of the band are " + show(band.low, kitchen.units),
                           "a vessel swings: say a low end and a higher one"};
    if (!(band.low < band.high))
        return BandMistake{"the low end of a band must be below its high end", "exchange the two"};
    if (auto mistake = outside_limits(band, vessel, kitchen)) {
        if (auto const meant = other_unit(band, vessel, kitchen))
            mistake->right = *meant + "; else " + mistake->right;
        return mistake;
    }
    auto const width = band.high - band.low;
    if (vessel.deadband && *vessel.deadband >= width)
        return BandMistake{"the deadband, " + show(*vessel.deadband, kitchen.units) +
                               ", is as wide as the band, " + show(width, kitchen.units) +
                               ", so an alarm could not end inside it",
                           "a smaller deadband, or a wider band"};
    return outside_plausible(band, vessel, kitchen);
}

}  // namespace ingle
