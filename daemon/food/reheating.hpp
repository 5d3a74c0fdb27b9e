// Food that was cooked, cooled and is heated again: a passage of its own with its own peak, judged in degrees
// and in time (FDA Food Code 3-403.11). Owned by the ledger; pure; O(1) per step.
#pragma once

#include <optional>
#include <string_view>

#include "daemon/food/state.hpp"
#include "daemon/food/step.hpp"

namespace ingle {

// 16 Del. Admin. Code 3-403.11 reproduces the section: (A) 165 degF for 15 s, (D) within 2 h from 41 degF on.
constexpr double reheat_c = from_fahrenheit(165), reheat_hold_s = 15, reheat_most_s = 2 * 3600.0;
constexpr double reheat_from_c = from_fahrenheit(41);
constexpr std::string_view reheat_source =
    "FDA Food Code 3-403.11(A) and (D): 165 degF for 15 s, within 2 h from 41 degF on";

enum class ReheatAnswer { none, open, met, missed, not_reached, unknown };
std::string_view to_word(ReheatAnswer answer);

class Reheating {
public:
    // `cooled`: it was cooked and has fallen out of the heat since. `heated`: something heats it now.
    void add(Step const& step, bool cooled, bool heated);
    // The first reading, of food that is reheated from the begin on: cooked before anybody looked.
    // `from_s`: the begin, earlier than t where it was not read at first.
    void begin_with(double from_s, double t, double c);

    ReheatAnswer answer(double now, bool blind) const;
    bool ever() const { return ever_; }
    bool active() const { return active_; }  // on its way up, as far as is known
    bool reached() const { return reached_ != 0; }
    double peak_c() const { return peak_; }  // of this reheating
    double held_s() const { return at_target_; }
    // Since it left 41 degF, or since its coldest where it was never that cold; to 165 degF, or to `now`.
    double took_least_s(double now) const;
    double took_most_s(double now) const;
    double began_latest_s() const { return from_late_; }
    bool missed_before() const { return missed_before_; }  // an earlier one of this cook

    void fields(FieldVisitor& visit);

private:
    void start(Step const& step);
    void finish(double now);
    bool ever_ = false, active_ = false, missed_before_ = false, holed_ = false;
    double low_ = 1000, low_t_ = 0;  // the coldest since it fell, and when it was last that cold
    double from_early_ = 0, from_late_ = 0;
    double peak_ = -1000, at_target_ = 0, reached_ = 0, ended_ = 0;
};

}  // namespace ingle
