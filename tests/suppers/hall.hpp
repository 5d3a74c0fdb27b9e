// The rooms of one random supper: vessels that are heated and cooled, what lies in them, and the probes.
// Finite volumes and enclosures that share nothing with the forecast. One step is one second.
#pragma once

#include <array>
#include <cstdint>
#include <memory>
#include <optional>
#include <vector>

#include "tests/forecast/truth.hpp"
#include "tests/scenarios/plant.hpp"

namespace ingle::suppers {

enum Dish { ham, roll, terrine, stock, pie, dishes };
enum Vessel { tub, smoker, hot_box, pot, bath, kettle, oven, fridge, vessels };
enum Probe { ham_core, roll_core, terrine_core, first_medium, probes = first_medium + vessels };

inline constexpr int an_hour = 3600, a_minute = 60;
inline constexpr int breakfast = 16 * an_hour;  // s since the start, which is 16:00 of the day before

struct Body {  // of a dish with a core probe
    bench::Food food;
    bench::Surface hot, cold;
    double target_c = 74;
    double told_thickness_m = 0, told_kg = 0;  // as the cook measured it
};

struct Heat {  // what the cook keeps a vessel at, degC
    double smoker_c = 100, pot_c = 85, bath_c = 76;
    double fridge_colder_k = 0;  // than 2.6 to 4.8
};

class Hall {
public:
    Hall(std::uint64_t seed, Heat const& heat, std::array<Body, 3> const& bodies);

    void step();
    int now() const { return now_; }
    void nothing_happens() { fire_out_.reset(), doors_.clear(); }  // but what is done by hand:
    void open_door(bool open) { door_open_ = open; }               // of the smoker
    void put_out_fire(bool out) { put_out_ = out; }
    void keep_at_top() { at_top_ = true; }            // of their bands: the smoker and the pot
    void put(Dish dish, std::optional<Vessel> into);  // empty: on the table
    double core(Dish dish) const;                     // ham, roll and terrine, degC
    double air_or_liquid(Vessel vessel) const;
    double shown(Probe probe);
    std::optional<std::pair<int, int>> fire_out() const { return fire_out_; }

private:
    void step_smoker();
    void step_pots();

    int now_ = 0;
    bool at_top_ = false, door_open_ = false, put_out_ = false;
    scenarios::Chance chance_, noise_;
    Heat heat_;
    std::array<Body, 3> bodies_;
    std::array<std::unique_ptr<bench::Truth>, 3> food_;
    std::array<std::optional<Vessel>, dishes> where_{};
    scenarios::Smoker smoker_;
    scenarios::Oven oven_;
    scenarios::Fridge fridge_;
    scenarios::Pot pot_, bath_;
    scenarios::Wander fire_{0.05, 1500}, flame_{0.03, 600};
    double stoked_ = 0;
    std::optional<std::pair<int, int>> fire_out_;
    std::vector<std::pair<int, int>> doors_;
};

}  // namespace ingle::suppers
