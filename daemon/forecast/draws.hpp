// Pseudo-random numbers that are the same on every machine: SplitMix64 (Steele, Lea and Flood 2014), normal
// deviates by Box and Muller.
#pragma once

#include <cmath>
#include <cstdint>
#include <numbers>

namespace ingle {

class Draws {
public:
    explicit Draws(std::uint64_t seed) : state_(seed) {}

    std::uint64_t state() const { return state_; }  // a generator seeded with it goes on as this one

    double uniform() {  // 0 to 1, both excluded
        return (static_cast<double>(next() >> 11) + 0.5) * 0x1p-53;
    }
    std::size_t below(std::size_t count) {
        return static_cast<std::size_t>(uniform() * static_cast<double>(count));
    }
    double normal() {
        double const radius = std::sqrt(-2 * std::log(uniform()));
        return radius * std::cos(2 * std::numbers::pi * uniform());
    }

private:
    std::uint64_t next() {
        state_ += 0x9E3779B97F4A7C15;
        std::uint64_t z = state_;
        z = (z ^ (z >> 30)) * 0xBF58476D1CE4E5B9;
        z = (z ^ (z >> 27)) * 0x94D049BB133111EB;
        return z ^ (z >> 31);
    }
    std::uint64_t state_;
};

}  // namespace ingle
