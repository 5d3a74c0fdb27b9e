// A piece of food that warms from its surface inwards: one-dimensional conduction in a slab, a long cylinder
// or a sphere, by finite volumes with explicit steps kept inside their stability limit. Pure; any thread.
#pragma once

#include <vector>

namespace ingle::simulated {

enum class Form { slab = 0, cylinder = 1, sphere = 2 };

struct Body {
    Form form = Form::cylinder;
    double half_thickness = 0.045;  // m, or the radius
    double conductivity = 0.48;     // W/(m K)
    double density = 1050;          // kg/m3
    double heat_capacity = 3500;    // J/(kg K)
};

class Food {
public:
    Food(Body body, double celsius, int cells = 24);

    // `h` to the medium in W/(m2 K); `drain` is heat leaving the surface otherwise (evaporation), W/m2.
    // Returns the heat taken in, J per m2 of surface.
    double step(double seconds, double medium, double h, double drain = 0);

    double centre() const;
    double surface() const { return surface_; }
    double mean() const;           // by volume
    double heat_per_area() const;  // J/m2 of surface above 0 degC

private:
    Body body_;
    double width_;                                 // m, of a cell
    std::vector<double> celsius_, volume_, area_;  // area_[i] is the outer face of cell i, in m^form
    double surface_;
};

}  // namespace ingle::simulated
