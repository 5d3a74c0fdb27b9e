// The change detectors against published average run lengths (tests/reference/forecast, sources named there).
// The detector itself is asked where it goes from every state: a Markov chain on a fine grid of states,
// solved.
#include <algorithm>
#include <cmath>
#include <fstream>
#include <functional>
#include <random>
#include <sstream>
#include <string>
#include <utility>
#include <vector>

#include "config/quantity.hpp"
#include "daemon/conditioning/crossing.hpp"
#include "daemon/conditioning/cusum.hpp"
#include "daemon/conditioning/ewma.hpp"
#include "daemon/conditioning/glr.hpp"
#include "tests/support/catch.hpp"

using namespace ingle;

namespace {

struct Row {
    std::string source;
    std::vector<double> numbers;
};

std::vector<Row> rows_of(std::string const& file) {
    std::ifstream in(std::string(TEST_DATA) + "/reference/forecast/" + file);
    REQUIRE(in);
    std::vector<Row> rows;
    std::string line;
    bool header = true;
    while (std::getline(in, line)) {
        if (line.empty() || line[0] == '#') continue;
        if (std::exchange(header, false)) continue;
        std::istringstream cells(line);
        Row row;
        std::getline(cells, row.source, ',');
        for (std::string cell; std::getline(cells, cell, ',');) {
            double value = 0;
            REQUIRE(parse_number(cell, value));
            row.numbers.push_back(value);
        }
        rows.push_back(row);
    }
    return rows;
}

// Average run length from each of `states` grid points between low and high. `go(state, z)` is the next
// state, or NaN for an alarm.
struct Chain {
    double low, step;
    std::vector<double> arl;
    double at(double state) const {
        double const x = (state - low) / step;
        auto const i = std::min(static_cast<std::size_t>(std::max(0.0, x)), arl.size() - 2);
        double const part = x - static_cast<double>(i);
        return (1 - part) * arl[i] + part * arl[i + 1];
    }
};

Chain solve(double low, double high, double shift, std::function<double(double, double)> const& go,
            std::size_t states = 121) {
    constexpr int cells = 2400;  // of the normal distribution, out to 8 standard deviations
    Chain chain{low, (high - low) / static_cast<double>(states - 1), {}};
    std::vector<std::vector<double>> a(states, std::vector<double>(states + 1, 0.0));
    for (std::size_t s = 0; s < states; ++s) {
        a[s][s] += 1;
        a[s][states] = 1;
        for (int c = 0; c < cells; ++c) {
            double const left = -8 + 16.0 * c / cells, width = 16.0 / cells;
            double const p = normal_cdf(left + width) - normal_cdf(left);
            double const next = go(low + static_cast<double>(s) * chain.step, left + width / 2 + shift);
            if (std::isnan(next)) continue;
            double const x = std::clamp((next - low) / chain.step, 0.0, static_cast<double>(states - 1));
            auto const i = std::min(static_cast<std::size_t>(x), states - 2);
            double const part = x - static_cast<double>(i);
            a[s][i] -= p * (1 - part);
            a[s][i + 1] -= p * part;
        }
    }
    for (std::size_t k = 0; k < states; ++k)  // diagonally dominant: no pivoting
        for (std::size_t r = k + 1; r < states; ++r) {
            double const f = a[r][k] / a[k][k];
            if (f == 0) continue;
            for (std::size_t c = k; c <= states; ++c) a[r][c] -= f * a[k][c];
        }
    chain.arl.assign(states, 0);
    for (std::size_t k = states; k-- > 0;) {
        double sum = a[k][states];
        for (std::size_t c = k + 1; c < states; ++c) sum -= a[k][c] * chain.arl[c];
        chain.arl[k] = sum / a[k][k];
    }
    return chain;
}

double one_sided(double k, double h, double start, double shift, int side) {
    auto const go = [&](double s, double z) {
        Cusum cusum(k, h);
        side > 0 ? cusum.restart_at(s, 0) : cusum.restart_at(0, s);
        if (cusum.take(z) == side) return std::nan("");
        return side > 0 ? cusum.up() : cusum.down();
    };
    return solve(0, h, shift, go).at(start);
}

// From zero: the sides never compete for k > 0 (Kemp 1961). With a head start u on both sides
// (Lucas and Crosier 1982): (L+(u) L-(0) + L-(u) L+(0) - L+(0) L-(0)) / (L+(0) + L-(0)).
double two_sided(double k, double h, double start, double shift) {
    double const up0 = one_sided(k, h, 0, shift, 1), down0 = one_sided(k, h, 0, shift, -1);
    if (start == 0) return 1 / (1 / up0 + 1 / down0);
    double const up = one_sided(k, h, start, shift, 1), down = one_sided(k, h, start, shift, -1);
    return (up * down0 + down * up0 - up0 * down0) / (up0 + down0);
}

}  // namespace

TEST_CASE("CUSUM reproduces the published run lengths to 1 %") {
    for (Row const& row : rows_of("cusum_run_lengths.csv")) {
        auto const& n = row.numbers;
        CAPTURE(row.source, n[0], n[1], n[2], n[3], n[4]);
        double const arl =
            n[0] == 2 ? two_sided(n[1], n[2], n[3], n[4]) : one_sided(n[1], n[2], n[3], n[4], 1);
        CHECK_THAT(arl, WithinRel(n[5], 0.01));
    }
}

TEST_CASE("EWMA reproduces the published run lengths to 1 %") {
    for (Row const& row : rows_of("ewma_run_lengths.csv")) {
        auto const& n = row.numbers;
        CAPTURE(row.source, n[0], n[1], n[2]);
        double const limit = Ewma(n[0], n[1]).limit();
        auto const go = [&](double mean, double z) {
            Ewma ewma(n[0], n[1]);
            ewma.restart_at(mean);
            return ewma.take(z) != 0 ? std::nan("") : ewma.mean();
        };
        CHECK_THAT(solve(-limit, limit, n[2], go, 241).at(0), WithinRel(n[3], 0.01));
    }
}

TEST_CASE("the two-sided CUSUM, run as it is, agrees too") {
    std::mt19937_64 random(7);
    std::normal_distribution<double> normal(1.0, 1.0);
    Cusum cusum(0.5, 5);
    long steps = 0;
    int const runs = 100000;
    for (int i = 0; i < runs; ++i) {
        cusum.restart();
        do ++steps;
        while (cusum.take(normal(random)) == 0);
    }
    CHECK_THAT(static_cast<double>(steps) / runs, WithinRel(10.376, 0.01));
}

TEST_CASE("a step is labelled with its beginning and its size") {
    std::mt19937_64 random(3);
    std::normal_distribution<double> normal(0.0, 1.0);
    int near = 0;
    for (int run = 0; run < 200; ++run) {
        StepLabeller labeller;
        for (int i = 0; i < 200; ++i) labeller.take(normal(random));
        for (int i = 0; i < 20; ++i) labeller.take(normal(random) + 3);
        StepLabel const label = labeller.label();
        near += std::abs(label.samples_ago - 19) <= 1;
        CHECK_THAT(label.size, WithinAbs(3, 1.2));
    }
    CHECK(near >= 180);
    CHECK(StepLabeller().label().ratio == 0);
}
