// When a core will be at a target: a bank of bodies that follow the readings, mixed with the simple rules
// where the dish does not behave like a body, with an interval as wide as such forecasts prove to be. Owned
// by a Cook; pure.
#pragma once

#include <optional>
#include <string>
#include <string_view>

#include "daemon/forecast/bank.hpp"
#include "daemon/forecast/medium_lately.hpp"
#include "daemon/forecast/medium_level.hpp"
#include "drivers/reading/clock.hpp"

namespace ingle {

class CoreForecast {
public:
    struct Answer {
        std::optional<double> eta_s, low_s, high_s;     // seconds from `now`, 80 %; all or none
        std::optional<double> low_half_s, high_half_s;  // 50 %
        std::string why;                                // what it rests on, or why there is none
        bool stalled = false;            // it has levelled off on the way up, where evaporation explains it
        bool unreachable = false;        // as things are it does not get there
        std::optional<double> levels_c;  // unreachable: what it would level off at, degC
    };

    // Forgets every reading; what the cook entered of the dish is used from now on.
    void begin(DishEntries const& entries);
    // One moment's core and, where it is known, its medium (degC). Times must not go back.
    void add(Instant at, double core, std::optional<double> medium);
    // The probe was moved: what the core read before does not count, what the medium read does.
    void moved();
    // `target` degC; `heating` false: the core is to fall to it. Costs what an update costs.
    Answer to(double target, bool heating, Instant now);

    Instant first() const { return first_; }
    // After `begin` with the same entries and `from_text` it goes on exactly as it would have; with other
    // entries, or with a text of an earlier version, the readings are kept and the bank is made anew.
    std::string as_text() const;
    void from_text(std::string_view text, Instant first);

private:
    std::string bank_text() const;
    void read_bank(std::string_view text);
    void update_bank();
    double share_done(double target) const;
    Answer without_medium(double target, bool heating, double late_s) const;
    Answer short_of_target(double target, bool heating, MediumLately const& medium,
                           MediumLevel const& level) const;
    bool comes_by_itself(double target, bool heating, MediumLevel const& level) const;
    Answer from_bank(double target, bool heating, MediumLately const& medium, double late_s) const;
    void judge_standstill(double target, bool heating, Answer& answer) const;

    DishEntries entries_;
    History history_;
    std::optional<Bank> bank_;  // made when something is asked
    Instant first_{}, newest_{};
    bool empty_ = true;
    double start_c_ = 0, start_sd_k_ = 1;
    double improved_s_ = 0;
};

}  // namespace ingle
