// Prints "metres pascals degC" for the comparison with an independent library (compare_iapws.py).
#include <cstdio>

#include "daemon/food/boiling.hpp"

int main() {
    for (int metres = 0; metres <= 4000; metres += 100) {
        ingle::Length const altitude{static_cast<double>(metres)};
        std::printf("%d %.3f %.6f\n", metres, ingle::standard_pressure(altitude)->pascals,
                    ingle::boiling_point(altitude)->celsius);
    }
}
