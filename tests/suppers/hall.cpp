#include "tests/suppers/hall.hpp"

#include <algorithm>
#include <cmath>

namespace ingle::suppers {
namespace {

constexpr int food_step_s = 10;
constexpr double room_c = 21, hot_box_c = 66, kettle_c = 92;
constexpr double smoker_top_c = 106.5, pot_top_c = 87.5;

double kept_by(double power_w, double at_c, double wanted_c, double w_per_k, double most_w) {
    return std::clamp(power_w + w_per_k * (wanted_c - at_c), 0.0, most_w);
}

}  // namespace

Hall::Hall(std::uint64_t seed, Heat const& heat, std::array<Body, 3> const& bodies)
    : chance_(seed * 2 + 1), noise_(seed * 2), heat_(heat), bodies_(bodies) {
    for (int i = 0; i < 3; ++i) {
        auto const& body = bodies[static_cast<std::size_t>(i)];
        food_[static_cast<std::size_t>(i)] = std::make_unique<bench::Truth>(body.food, body.cold);
    }
    smoker_.outside = chance_.uniform(2, 16);
    smoker_.wind = chance_.uniform(0.9, 1.3);
    smoker_.air = smoker_.wall = heat.smoker_c;
    pot_.celsius = heat.pot_c, bath_.celsius = heat.bath_c;
    pot_.kg = chance_.uniform(4, 7), bath_.kg = chance_.uniform(5, 9);
    pot_.lid = bath_.lid = true;
    oven_.air = oven_.element = 204;
    fridge_.low -= heat.fridge_colder_k, fridge_.high -= heat.fridge_colder_k;
    fridge_.contents = fridge_.air = 3 - heat.fridge_colder_k;
    if (chance_.happens(0.6)) {
        int const from = static_cast<int>(chance_.uniform(14.0 * an_hour, 22.5 * an_hour));
        fire_out_ = {from, from + static_cast<int>(chance_.uniform(15.0 * a_minute, 45.0 * a_minute))};
    }
    for (int k = 0; k < 6; ++k) {
        int const from = static_cast<int>(chance_.uniform(14.0 * an_hour, 24.0 * an_hour));
        if (chance_.happens(0.5))
            doors_.emplace_back(from, from + static_cast<int>(chance_.uniform(20, 120)));
    }
}

void Hall::step_smoker() {
    bool const out = put_out_ || (fire_out_ && now_ >= fire_out_->first && now_ < fire_out_->second);
    double const wanted = at_top_ ? smoker_top_c : heat_.smoker_c;
    stoked_ += (kept_by(smoker_.power_to_hold(wanted), smoker_.air, wanted, 30, 9000) - stoked_) / 300;
    double const wander = 1 + fire_.step(chance_);
    smoker_.fire_w = out ? 0 : stoked_ * wander;
    smoker_.door_open = door_open_ || std::ranges::any_of(doors_, [&](auto const& door) {
                            return now_ >= door.first && now_ < door.second;
                        });
    smoker_.step();
}

void Hall::step_pots() {
    double const wander = 1 + flame_.step(chance_);
    double const wanted = at_top_ ? pot_top_c : heat_.pot_c;
    pot_.burner_w = wander * kept_by(pot_.power_to_hold(wanted), pot_.celsius, wanted, 90, 2500);
    bath_.burner_w =
        wander * kept_by(bath_.power_to_hold(heat_.bath_c), bath_.celsius, heat_.bath_c, 90, 2500);
    pot_.step(), bath_.step();
    pot_.kg = std::max(pot_.kg, 3.0), bath_.kg = std::max(bath_.kg, 3.0);  // topped up
}

void Hall::step() {
    step_smoker(), step_pots();
    oven_.step(), fridge_.step();
    if (now_ % food_step_s == 0)
        for (std::size_t i = 0; i < 3; ++i)
            food_[i]->step(food_step_s, where_[i] ? air_or_liquid(*where_[i]) : room_c);
    ++now_;
}

void Hall::put(Dish dish, std::optional<Vessel> into) {
    auto const number = static_cast<std::size_t>(dish);
    if (where_[number] == into) return;
    where_[number] = into;
    bool heated = false;
    if (into) switch (*into) {
            case pot:
                pot_.celsius -= chance_.uniform(1, 4), heated = true;
                break;
            case bath:
                bath_.celsius -= chance_.uniform(1, 4), heated = true;
                break;
            case smoker:
                smoker_.air -= chance_.uniform(5, 20), heated = true;
                break;
            case oven:
                oven_.air -= chance_.uniform(10, 35);
                break;
            default:
                break;
        }
    if (number < 3) food_[number]->meet(heated ? bodies_[number].hot : bodies_[number].cold);
}

double Hall::core(Dish dish) const {
    return food_[static_cast<std::size_t>(dish)]->at(0);
}

double Hall::air_or_liquid(Vessel vessel) const {
    switch (vessel) {
        case tub:
            return fridge_.contents;
        case smoker:
            return smoker_.air;
        case hot_box:
            return hot_box_c;
        case pot:
            return pot_.celsius;
        case bath:
            return bath_.celsius;
        case kettle:
            return kettle_c;
        case oven:
            return oven_.air;
        default:
            return fridge_.air;
    }
}

double Hall::shown(Probe probe) {
    bool const medium = probe >= first_medium;
    auto const vessel = static_cast<Vessel>(medium ? probe - first_medium : 0);
    double const truth = medium ? air_or_liquid(vessel) : core(static_cast<Dish>(probe));
    double const sd = medium && vessel != pot && vessel != bath ? 0.25 : 0.08;
    return std::round((truth + sd * noise_.normal()) * 10) / 10;
}

}  // namespace ingle::suppers
