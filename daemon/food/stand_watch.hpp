// Whether a tip has stopped measuring: its reading stands to the last digit for an hour and longer, though
// what is around the food was read far from it all the time, or though it trembled before. A reading that
// stands says nothing by itself: food that has come to what is around it stands, the more so for a coarse
// instrument, and so does what freezes, thaws or boils. Owned by the judge of one core probe; pure; bounded
// memory.
#pragma once

#include <optional>

#include "daemon/food/phase.hpp"

namespace ingle {

inline constexpr double same_reading_k = 1e-9;  // to the last digit

class StandWatch {
public:
    // A reading that counts, s and degC, and what is around the food then; times must not go back.
    void take(double t, double celsius, std::optional<double> medium_c, FoodPhase phase);
    void clear();

    // Since when, if it has stood for too long for a middle. No reading after that moment is one.
    std::optional<double> stuck(double boiling_c) const;

private:
    struct Point {
        double t = 0, c = 0;
    };
    void changed(double t, double celsius);
    double patience_s() const;

    std::optional<Point> since_;  // when it first read what it reads
    double newest_ = 0;
    int repeats_ = 0;
    double grain_ = 0;      // the least change ever read, K; 0: none was read yet
    double trembling_ = 0;  // what share of its readings turned back, by more than its last digit
    double way_ = 0;        // of the newest change
    bool far_ = false;      // from what is around it, all the time that it stands
    bool heated_ = false;   // and in heat at some time of that
};

}  // namespace ingle
