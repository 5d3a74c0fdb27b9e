// What truly happens in the forecast bench: finite volumes with properties that change with the temperature
// and a surface from which water evaporates. It shares nothing with daemon/forecast: no series, no
// effective medium, other formulas for the vapour.
#pragma once

#include <vector>

namespace ingle::bench {

struct Food {
    int geometry = 1;         // 0 slab, 1 long cylinder, 2 sphere
    double radius_m = 0.045;  // half the thickness
    double start_c = 5;
    double water = 0.72, fat = 0.06;  // shares of the mass; the rest is protein
    double conductivity_factor = 1;
};
struct Surface {
    double h_convection = 300;  // W/(m2 K)
    double emissivity = 0;      // 0.9 in air; in liquid 0
    double wetness = 0;         // share of a free water surface at first; 0: none evaporates
    double dew_point_c = 15;    // of what is around it
    double water_share = 0.2;   // of the mass, that can leave (the brisket of stall.md: 0.24)
    double slows_at = 0.25;     // share of that left when it begins to dry
};

class Truth {
public:
    Truth(Food const& food, Surface const& surface);
    void step(double dt_s, double medium_c);  // any dt: it divides it
    void meet(Surface const& surface) {
        surface_ = surface;
    }                                         // it is put elsewhere; the water it lost is gone
    double at(double share_of_radius) const;  // degC
    double water_left() const { return water_; }

private:
    void small_step(double dt, double medium);
    double surface_temperature(double medium, double conductance, double& inward);

    Food food_;
    Surface surface_;
    static constexpr int nodes = 18;
    std::vector<double> t_, volume_, area_;
    double dr_, water_ = 1, water_kg_m2_, surface_c_;
};

}  // namespace ingle::bench
