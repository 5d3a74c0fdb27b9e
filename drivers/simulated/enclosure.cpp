#include "drivers/simulated/enclosure.hpp"

namespace ingle::simulated {

void Enclosure::step(double seconds, double outside, double source, double load) {
    double const through_wall = wall_to_outside * (wall - outside);
    double const escaping = (leak + (door_open ? open_door : 0)) * (air - outside);
    double const to_wall = air_to_wall * (air - wall);
    air += (source - load - escaping - to_wall) * seconds / air_heat;
    wall += (to_wall - through_wall) * seconds / wall_heat;
    heat_in += source * seconds;
    heat_out += (load + escaping + through_wall) * seconds;
}

}  // namespace ingle::simulated
