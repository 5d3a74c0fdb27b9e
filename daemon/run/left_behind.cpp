#include "daemon/run/left_behind.hpp"

#include <algorithm>
#include <stdexcept>
#include <string>
#include <vector>

namespace ingle {
namespace {

bool has(auto const& items, std::string const& name) {
    return std::ranges::any_of(items, [&](auto const& item) { return item.name == name; });
}

std::vector<std::string> cores_of(Settings const& settings, std::string const& dish) {
    std::vector<std::string> names;
    auto const found = std::ranges::find(settings.dishes, dish, &DishSettings::name);
    if (found == settings.dishes.end()) return names;
    auto numbers = found->more_cores;
    if (found->core >= 0) numbers.push_back(found->core);
    for (int const number : numbers) names.push_back(settings.probes[static_cast<std::size_t>(number)].name);
    return names;
}

// "" = none
std::string shared_core(Settings const& settings, std::string const& dish, std::string const& other) {
    auto const others = cores_of(settings, other);
    for (auto const& core : cores_of(settings, dish))
        if (std::ranges::find(others, core) != others.end()) return core;
    return {};
}

}  // namespace

void check_running_cooks(View const& present, Settings const& earlier, Settings const& next) {
    for (auto const& dish : present.dishes) {
        if (!dish.begun) continue;
        auto const instead = ": end it first (`ingle end " + dish.name + "`), or put ";
        if (!has(next.dishes, dish.name))
            throw std::runtime_error(dish.name + " cooks, and the kitchen file has no such dish any more" +
                                     instead + "it back");
        if (dish.vessel < 0) continue;
        auto const& vessel = present.vessels[static_cast<std::size_t>(dish.vessel)].name;
        if (!has(next.vessels, vessel))
            throw std::runtime_error(dish.name + " cooks in " + vessel +
                                     ", and the kitchen file has no such vessel any more" + instead + vessel +
                                     " back");
    }
    for (auto const& dish : present.dishes)
        for (auto const& other : present.dishes) {
            if (!dish.begun || !other.begun || &other <= &dish) continue;
            auto const core = shared_core(next, dish.name, other.name);
            if (core.empty() || !shared_core(earlier, dish.name, other.name).empty()) continue;
            throw std::runtime_error(dish.name + " and " + other.name +
                                     " cook, and the kitchen file gives both the core probe " + core +
                                     ": give one of them another, or end one first");
        }
    for (auto const& vessel : present.vessels) {
        auto const& asked = earlier.vessels[static_cast<std::size_t>(vessel.number)].band;
        if (!vessel.band || vessel.band == asked || has(next.vessels, vessel.name)) continue;
        throw std::runtime_error(vessel.name +
                                 " is held, and the kitchen file has no such vessel any more: end that first "
                                 "(`ingle hold " +
                                 vessel.name + " --off`), or put it back");
    }
}

}  // namespace ingle
