// A door or lid being opened and closed, told by the shape of the drop; of a fridge, of the rise. Belongs to
// the heat watch; pure.
#pragma once

#include <optional>

#include "config/settings.hpp"
#include "daemon/conditioning/followed.hpp"
#include "daemon/model/memory.hpp"
#include "drivers/reading/clock.hpp"

namespace ingle {

class Opening {
public:
    enum class State {
        none,
        open,        // fell as only an opening makes it fall
        recovering,  // on its way back
        stuck        // fell like an opening, but does not come back: left open, or the fire is out
    };
    struct Change {
        bool opened = false;        // just now
        bool closed = false;        // recovered just now; with `opened` too: closed, and opened again
        double depth_k = 0;         // how far it went
        double steepest_k = 0;      // of it, within `within()`
        Span length{}, recovery{};  // until it turned; from there until it was back
    };

    explicit Opening(VesselKind kind);

    // Once a second; `celsius` empty: no fresh value. `room` degC.
    // `step` K: its resolution, which it may jump by at any time.
    Change step(Instant now, std::optional<double> celsius, double room, double step);
    // A real switch overrules the shape.
    Change step_switch(Instant now, bool open, std::optional<double> celsius);
    void skip(Span off) { past_.skip(off); }  // nothing was read for so long
    void forget();                            // what it is at now is where it belongs

    State state() const { return state_; }
    // Readings that are further apart cannot tell how fast it fell.
    Span within() const { return std::chrono::seconds(manner_.within_s); }
    bool silences(Instant now) const;  // the band alarms, for a bounded time only
    Instant since() const { return opened_; }
    double before() const { return sign_ * before_; }   // degC, before it went
    double depth() const { return before_ - bottom_; }  // K, so far
    // Whether it is, or was, open in the last `span`.
    bool lately(Instant now, Span span) const {
        return last_end_ ? now - *last_end_ < span : state_ != State::none;
    }

    void remember(Memory& memory, std::string const& prefix) const;
    void recall(Memory const& memory, std::string const& prefix);

private:
    struct Manner {
        int within_s;           // the whole of the drop that tells an opening
        double least_k, share;  // how deep: the larger of K and this share of the difference to the room
        double rising_k;        // a minute, on its way back; or a hundredth of the depth
        Span longest;           // then it is forgotten
    };
    Change finish(Instant now);
    std::optional<double> drop_to(double value, double room, double step) const;  // if it is an opening's
    void learn_unrest();

    Manner manner_;
    double sign_;  // -1: a cold vessel, everything inside here is mirrored
    Past<64> past_;
    State state_ = State::none;
    Instant opened_{}, bottom_at_{};
    double before_ = 0, bottom_ = 0;
    double steepest_ = 0;  // K within `within_s`, since it was opened
    // K: sd of what it moves by within `within_s` while nothing is opened, its steady slope left out.
    double unrest_ = 0;
    int unrest_s_ = 0;
    std::optional<Instant> last_end_;
    bool by_switch_ = false;
};

}  // namespace ingle
