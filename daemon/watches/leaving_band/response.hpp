// Learns a vessel's own response from what it does: a bend in its slope is somebody's turn at the heat, and
// the way to the new balance afterwards tells the time constant. Owned by leaving_band; pure, fixed memory.
#pragma once

#include <array>
#include <optional>
#include <string>

#include "config/settings.hpp"
#include "daemon/model/memory.hpp"
#include "daemon/model/response.hpp"
#include "drivers/reading/clock.hpp"

namespace ingle {

// What a kind of vessel is like until this one has shown it. Our own judgement of the order of size.
double usual_time_constant(VesselKind kind);  // s

class ResponseLearner {
public:
    static constexpr int every_s = 5;  // how often it wants to be stepped

    explicit ResponseLearner(VesselKind kind);

    // Level degC, slope K/s and the slope's standard deviation, of a careful trend.
    void step(Instant now, double level, double slope, double slope_sd);
    // Nothing can be learnt across this: a gap, a step, an open door.
    void interrupt();
    void door(double recovery_s);  // it came back this long after it was shut

    VesselResponse const& learnt() const { return learnt_; }
    double time_constant() const { return learnt_.time_constant_s.value_or(usual_s_); }  // s
    // A turn is bending the slope right now, and at this bend it stops short of the limit that lies `gap` K
    // away, upward or downward. What a vessel does by itself on the way to its balance does not count.
    bool working(double slope, double slope_sd, double gap, bool upward) const;

    void remember(Memory& memory, std::string const& prefix) const;
    void recall(Memory const& memory, std::string const& prefix);

private:
    static constexpr int kept_s = 600, slots_ = kept_s / every_s, newest_ = 5;
    enum class State { idle, turning, settling };
    // The median of the newest few: one odd turn does not spoil what was learnt.
    class Newest {
    public:
        void take(double value);
        std::optional<double> median() const;

    private:
        std::array<double, newest_> values_{};
        int count_ = 0, next_ = 0;
    };

    std::optional<double> slope_ago(int s) const;
    bool turned_again(Instant now, double slope, double slope_sd) const;
    void rest(Instant now);
    void turned(Instant now);
    void settled(double time_constant);

    double usual_s_, least_bend_, least_way_;  // s, K/s, K
    State state_ = State::idle;
    std::array<double, slots_> slopes_{};
    int next_ = 0, count_ = 0;
    double before_ = 0, peak_ = 0;                // K/s: the slope before the turn, and the most it changed
    double level_ = 0, slope_ = 0;                // where the turn had its full effect
    Instant began_{}, peak_at_{}, rest_until_{};  // the rest of a known way is no new turn
    Newest lags_, constants_, turns_;
    VesselResponse learnt_;
};

}  // namespace ingle
