#include "daemon/run/left_behind.hpp"

#include <algorithm>
#include <stdexcept>

namespace ingle {
namespace {

bool has(auto const& items, std::string const& name) {
    return std::ranges::any_of(items, [&](auto const& item) { return item.name == name; });
}

}  // namespace

void leave_no_cook_behind(View const& present, Settings const& earlier, Settings const& next) {
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
