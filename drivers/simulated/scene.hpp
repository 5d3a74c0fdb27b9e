// The demonstration kitchen: a village hall on the day of a harvest supper. A goose-and-chestnut roll poaches
// in its stock, a boar shoulder is in the smoker, a quince tart waits for its oven, trout lie in brine in the
// fridge. Pure physics and a fixed story: no clock, no randomness; the same seconds give the same numbers.
#pragma once

#include <array>
#include <cstdint>
#include <optional>
#include <string_view>

#include "drivers/simulated/enclosure.hpp"
#include "drivers/simulated/food.hpp"
#include "drivers/simulated/pot.hpp"

namespace ingle::simulated {

enum class Thing { stockpot, goose_core, smoker, boar_core, oven, fridge, trout_tub, hall };
inline constexpr std::array<std::string_view, 8> thing_names{
    "stockpot", "goose-core", "smoker", "boar-core", "oven", "fridge", "trout-tub", "hall"};
std::optional<Thing> thing_from(std::string_view name);

// supper: the stock's burner stands too high and is turned down five minutes later, the smoker is opened now
// and then, the pot is topped up; over again every hour. steady: somebody minds the burner and nothing
// happens.
enum class Story { supper, steady };
std::optional<Story> story_from(std::string_view name);

class Scene {
public:
    static constexpr double step_seconds = 0.5;

    explicit Scene(Story story);
    void advance_to(double seconds);  // from the start of the scene; in whole steps, never back
    double seconds() const { return static_cast<double>(steps_) * step_seconds; }
    double truth(Thing thing) const;  // degC of the thing itself
    double felt(Thing thing) const;   // degC of a probe in it, which follows late
    Pot const& pot() const { return pot_; }
    bool smoker_open() const { return smoker_.door_open; }

private:
    void step();
    void act();

    Story story_;
    std::int64_t steps_ = 0;
    Air hall_;
    Pot pot_;
    Food goose_, boar_;
    Enclosure smoker_, oven_, fridge_;
    Thermostat oven_switch_{199, 208}, fridge_switch_{1.5, 4.5};
    double tub_ = 3.2;  // degC of the brine with the trout
    std::array<double, thing_names.size()> felt_{};
};

// What a probe shows of `felt`: its own noise, in steps of 0.25 K. The same seed, thing and sample: the same
// value.
double shown(double felt, std::uint64_t seed, Thing thing, std::uint64_t sample);

}  // namespace ingle::simulated
