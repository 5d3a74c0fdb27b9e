// How heat moves in food. Plain values.
#pragma once

namespace ingle {

struct FoodProperties {
    double conductivity = 0, density = 0, heat_capacity = 0;  // W/(m K), kg/m3, J/(kg K)
    double diffusivity() const { return conductivity / (density * heat_capacity); }
};
// Cooked or raw meat, poultry, fish: within 10 % of what Choi and Okos (1986) give for them at 5 to 80 degC.
inline constexpr FoodProperties meat_properties{0.48, 1040, 3350};

}  // namespace ingle
