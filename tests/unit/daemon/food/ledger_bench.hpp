// What the tests of the ledger share: dishes, curves of straight lines, and looking up one answer.
#pragma once

#include <stdexcept>
#include <string>
#include <utility>
#include <vector>

#include "daemon/food/ledger.hpp"

namespace ingle::test {

constexpr Instant zero{};
inline Instant at(double s) {
    return zero + from_seconds(s);
}

inline LedgerSettings dish(std::string food, int cores = 1, double longest_s = 60) {
    LedgerSettings settings;
    settings.dish.food = std::move(food);
    settings.dish.core = cores > 0 ? 0 : -1;
    for (int i = 1; i < cores; ++i) settings.dish.more_cores.push_back(i);
    settings.longest_step = from_seconds(longest_s);
    return settings;
}

// Of a said thickness that hardly shows a lag: straight lines from the first reading on are its core's too.
inline LedgerSettings thin_dish(std::string food) {
    auto settings = dish(std::move(food));
    settings.dish.thickness = Length{0.03};
    return settings;
}

struct Curve {  // straight lines through minutes and degC
    std::vector<std::pair<double, double>> points;
    double operator()(double s) const {
        double const m = s / 60;
        for (std::size_t i = 1; i < points.size(); ++i) {
            auto const [m0, c0] = points[i - 1];
            auto const [m1, c1] = points[i];
            if (m <= m1) return c0 + (c1 - c0) * (m - m0) / (m1 - m0);
        }
        return points.back().second;
    }
    double end() const { return points.back().first * 60; }
};

inline void feed(FoodLedger& ledger, Curve const& curve, double from, double to, double every = 30,
                 int core = 0) {
    for (double t = from; t <= to + 1e-9; t += every) ledger.take(at(t), core, curve(t), Quality::good);
    ledger.advance(at(to + CoreEvidence::hold_s));  // what was read is certain
}

inline FoodConcern concern(FoodLedger const& ledger, std::string_view alarm) {
    for (auto& one : ledger.concerns())
        if (one.alarm == alarm) return one;
    throw std::logic_error("no such concern");
}
inline Verdict verdict(FoodLedger const& ledger, std::string_view rule) {
    for (auto& one : ledger.verdicts())
        if (one.rule == rule) return one;
    throw std::logic_error("no such verdict");
}

}  // namespace ingle::test
