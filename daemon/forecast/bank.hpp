// A bank of bodies, each with parameters of its own, that are followed side by side with the readings: those
// that explain them live on, the others are replaced by what lies between those. What the bank holds is what
// may be true of the dish. Deterministic: the same history gives the same bank. Owned by a CoreForecast.
#pragma once

#include <cstddef>
#include <cstdint>
#include <string>
#include <string_view>
#include <vector>

#include "daemon/forecast/draws.hpp"
#include "daemon/forecast/history.hpp"
#include "daemon/forecast/prior.hpp"

namespace ingle {

// A course of the medium to come: `mean` known to `sd`, and what is left of a transient that fades.
struct MediumAhead {
    double mean_c = 0, sd_k = 0;
    double transient_k = 0, fades_s = 1;
};
struct Arrival {
    double after_s = 0;  // since the history's end
    double weight = 0;
};
struct Arrivals {
    std::vector<Arrival> sorted;  // of the bodies that arrive, soonest first; weights sum to 1 - never
    double never = 0;             // share that does not arrive within the horizon
    double quantile(double share) const;  // of those that arrive, s since the history's end
};

class Bank {
public:
    static constexpr std::size_t bodies = 256;
    // Unknowns and logarithms of likelihoods are multiples of this: they go into a text and back exactly.
    static constexpr double grid = 1.0 / 4096;

    Bank(DishEntries const& entries, History const& history, double start_c, double start_sd_k);

    void follow(History const& history);  // after a point was completed
    void improve(History const& history, int sweeps);
    // Where a whole history is known at once: the readings are believed step by step, so that the bank does
    // not gather around the few bodies that happened to be near.
    void settle(History const& history);
    std::string as_text() const;
    // As it was with the same history; false: not understood, and nothing has changed.
    bool read(std::string_view text, History const& history);
    Arrivals arrivals(History const& history, double target_c, bool heating, MediumAhead const& ahead) const;
    double misfit_k(History const& history) const;  // root mean square, of what the bank says on the whole

private:
    struct Cell {
        Shape shape{};
        Unknowns z{};
        double log_weight = 0, log_likelihood = 0;
        Body body;
        std::array<float, History::most> residual{};
        float last = 0;  // what the probe would read at the end
    };

    Cell make(Shape shape, Unknowns z, History const& history) const;
    void replay(Cell& cell, History const& history, std::size_t from) const;
    double log_likelihood(Cell const& cell, History const& history) const;
    void resample();
    void sweep(History const& history);
    Cell propose(std::size_t i, double& log_prior_ratio, History const& history);
    Shape draw_shape();
    std::vector<double> weights() const;

    Prior prior_;
    Draws draws_;
    std::vector<Cell> cells_;
    double believed_ = 1;  // share of the log likelihood that counts
    std::size_t followed_ = 0;
    std::uint32_t version_ = 0;
};

}  // namespace ingle
