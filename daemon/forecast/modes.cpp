#include "daemon/forecast/modes.hpp"

#include <algorithm>
#include <cmath>
#include <vector>

#include "daemon/forecast/conduction.hpp"

namespace ingle {
namespace {

constexpr double least_biot = 0.02, most_biot = 400;
constexpr std::size_t biots = 120, shapes = 3;
constexpr double bessel_to = 30, bessel_step = 0.01;

struct Term {
    float root = 0, coefficient = 0;
};

struct Tables {
    std::array<std::array<std::array<Term, mode_count>, biots>, shapes> terms{};
    std::vector<float> bessel;  // J0 at multiples of bessel_step

    Tables() {
        for (std::size_t s = 0; s < shapes; ++s) {
            for (std::size_t b = 0; b < biots; ++b) {
                double const share = static_cast<double>(b) / (biots - 1);
                Conduction const body(static_cast<Shape>(s),
                                      least_biot * std::pow(most_biot / least_biot, share), mode_count);
                for (std::size_t n = 0; n < mode_count; ++n)
                    terms[s][b][n] = {static_cast<float>(body.root(n)),
                                      static_cast<float>(body.coefficient(n))};
            }
        }
        auto const count = static_cast<std::size_t>(bessel_to / bessel_step) + 2;
        for (std::size_t i = 0; i < count; ++i)
            bessel.push_back(
                static_cast<float>(std::cyl_bessel_j(0.0, static_cast<double>(i) * bessel_step)));
    }
    double j0(double x) const {
        double const at = std::min(x, bessel_to) / bessel_step;
        auto const i = static_cast<std::size_t>(at);
        double const share = at - static_cast<double>(i);
        return (1 - share) * bessel[i] + share * bessel[i + 1];
    }
};

double profile(Tables const& tables, Shape shape, double z) {
    if (z < 1e-6) return 1;
    switch (shape) {
        case Shape::slab:
            return std::cos(z);
        case Shape::sphere:
            return std::sin(z) / z;
        case Shape::cylinder:
            break;
    }
    return tables.j0(z);
}

}  // namespace

Modes modes_of(Shape shape, double biot, double off_centre) {
    static const Tables tables;
    double const at = std::log(std::clamp(biot, least_biot, most_biot) / least_biot) /
                      std::log(most_biot / least_biot) * (biots - 1);
    auto const i = std::min(static_cast<std::size_t>(at), biots - 2);
    double const share = at - static_cast<double>(i);
    auto const& low = tables.terms[static_cast<std::size_t>(shape)][i];
    auto const& high = tables.terms[static_cast<std::size_t>(shape)][i + 1];
    Modes modes;
    double place_sum = 0, surface_sum = 0;
    for (std::size_t n = 0; n < mode_count; ++n) {
        double const root = (1 - share) * low[n].root + share * high[n].root;
        double const coefficient = (1 - share) * low[n].coefficient + share * high[n].coefficient;
        double const place = coefficient * profile(tables, shape, root * off_centre);
        double const surface = coefficient * profile(tables, shape, root);
        modes.rate[n] = static_cast<float>(root * root);
        modes.place[n] = static_cast<float>(place);
        modes.surface[n] = static_cast<float>(surface);
        place_sum += place;
        surface_sum += surface;
    }
    modes.place_rest = static_cast<float>(1 - place_sum);
    modes.surface_rest = static_cast<float>(1 - surface_sum);
    return modes;
}

ModeRow decay(Modes const& modes, double fourier) {
    ModeRow left{};
    for (std::size_t n = 0; n < mode_count; ++n)
        left[n] = std::exp(-modes.rate[n] * static_cast<float>(fourier));
    return left;
}

}  // namespace ingle
