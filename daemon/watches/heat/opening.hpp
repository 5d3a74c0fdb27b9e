// A door or lid being opened and closed, told by the shape of the drop. Belongs to the heat watch; pure.
#pragma once

#include <optional>

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
        bool closed = false;        // recovered just now
        double depth_k = 0;         // how far it fell
        Span length{}, recovery{};  // until it turned; from there until it was back
    };

    // Once a second; `celsius` empty: no fresh value. `room` degC.
    Change step(Instant now, std::optional<double> celsius, double room);
    // A real switch overrules the shape.
    Change step_switch(Instant now, bool open, std::optional<double> celsius);

    State state() const { return state_; }
    bool silences(Instant now) const;  // the band alarms, for a bounded time only
    Instant since() const { return opened_; }
    double before() const { return before_; }  // degC, before it fell
    // Whether it is, or was, open in the last `span`.
    bool lately(Instant now, Span span) const {
        return last_end_ ? now - *last_end_ < span : state_ != State::none;
    }

private:
    Change finish(Instant now);

    Past<64> past_;
    State state_ = State::none;
    Instant opened_{}, bottom_at_{};
    double before_ = 0, bottom_ = 0;
    std::optional<Instant> last_end_;
    bool by_switch_ = false;
};

}  // namespace ingle
