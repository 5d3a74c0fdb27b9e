// The time that a stage waits for: counted from the moment that its band is reached, through an excursion of
// bounded length, or from its begin where the plan says so or nothing measures a band. Pure.
#pragma once

#include <optional>
#include <string>
#include <string_view>

#include "config/settings.hpp"
#include "daemon/model/memory.hpp"

namespace ingle {

enum class AtBand {
    none,  // no band is watched there: time passes as it is
    inside,
    rim,  // within its deadband: inside for what was inside before
    outside,
    unknown  // no reading to judge by
};

class StageTime {
public:
    void begin(Instant at, StageSettings const& stage);
    void step(Instant now, AtBand band);  // once per second; a longer gap counts as an excursion

    Span counted() const { return counted_; }
    std::optional<Instant> reached() const { return reached_; }  // its band; empty: not, or none to reach
    std::string_view state() const;  // "counts", "waits for its band", "stopped: outside its band", ...

    void remember(Memory& memory, std::string const& prefix) const;
    // After `begin` of the same stage: what was counted of it.
    void recall(Memory const& memory, std::string const& prefix);

private:
    void pass(Span passed, bool excursion);
    void pass_unread();
    void leave(Instant now);

    bool from_begin_ = true;
    Span excursion_{0};  // the longest that counts
    Instant newest_{};
    Span counted_{0}, outside_{0}, unread_{0};  // outside_: the present excursion; unread_: since a reading
    std::optional<Instant> reached_;
    AtBand band_ = AtBand::none;
};

}  // namespace ingle
