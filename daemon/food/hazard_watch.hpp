// What the hazards of one begun dish depend on and no other sum of the ledger holds. Owned by the ledger;
// pure; O(1) per reading.
#pragma once

#include <limits>
#include <optional>
#include <string>
#include <vector>

#include "config/settings.hpp"
#include "daemon/food/state.hpp"
#include "daemon/food/step.hpp"

namespace ingle {

class HazardWatch {
public:
    explicit HazardWatch(std::size_t cores) : warm_(cores) {}

    // A step of this core; `lethal_c`: once it is there the food counts as cooked.
    void core(std::size_t core, Step const& step, double lethal_c);
    void medium(double celsius);
    // The food was read, itself or what is around it, at `t` seconds; `cold`: where it is to be kept cold.
    void read(double t, bool cold);
    void lose_track(bool cold);  // an unknown time passed
    void gaps_are_measured();    // all that did not end yet
    void put_in(VesselKind where);
    void brine() { brined_ = true; }

    double warm_possible_s() const;  // between 50 and 130 degF before it was cooked; the worst core
    // Longest time without a reading where it is to be cold; the one that still runs counts.
    double unread_cold_s(double now, bool cold) const;
    bool brined() const { return brined_; }
    bool smoked() const { return smoked_; }
    std::optional<double> smoker_high_c() const { return smoker_high_c_; }

    void fields(FieldVisitor& visit);

private:
    struct Warm {
        double possible_s = 0;
        bool cooked = false;
    };
    std::vector<Warm> warm_;
    bool brined_ = false, smoked_ = false, in_smoker_ = false;
    std::optional<double> smoker_high_c_;
    double last_read_ = 0, unread_cold_s_ = 0;
    bool ever_read_ = false;
};

}  // namespace ingle
