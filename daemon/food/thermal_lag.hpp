// Whether a tip answers as the centre of a body does. Heat and cold reach a centre late: from rest it moves
// slowly at first, then faster (daemon/forecast/conduction). Air, a pan and a thin end move fastest at once.
// Told without knowing the medium, from the shape of the way alone. Owned by the judge of one core probe;
// pure; bounded memory.
#pragma once

#include <deque>
#include <optional>

#include "config/quantity.hpp"
#include "daemon/food/classes.hpp"
#include "daemon/food/state.hpp"

namespace ingle {

class ThermalLag {
public:
    enum class Answer {
        open,    // it has not moved enough, or so slowly that it need not show
        body,    // it was late: shown for good, until the tip is moved
        no_body  // it was not: air, a surface, or food thinner than is known
    };

    // Without a thickness: the least that a dish of the class has whose core is read. A liquid has no lag.
    ThermalLag(std::optional<Length> thickness, FoodClass const* food);

    // A reading that one core could have had after the one before; s and degC, times must not go back.
    Answer take(double t, double celsius);
    void begin_again();  // the tip is somewhere else, or nobody knows where it was
    // What is around the food, known to be air or not. Where the tip was warm at its begin, so that no shape
    // shows, how slowly it goes to what is far from it does.
    void beside(double medium_c, bool air);
    // It was put where it is while it was read: that a thickness is said shows nothing then.
    void came_from_elsewhere() { put_in_ = true; }
    void doubt();  // nothing shows that it is in one any more
    bool bare() const { return answer_ == Answer::no_body; }
    bool in_a_body() const { return answer_ == Answer::body; }
    // Or its thickness is said: a core that is warm at its begin is then taken for one.
    bool shown() const { return put_in_ ? tested_ && in_a_body() : in_a_body() || thickness_known_; }

    void fields(FieldVisitor& visit);

private:
    struct Point {
        double t = 0, c = 0;
    };
    struct Way {  // from rest to the newest reading
        double rise_k = 0, length_s = 0;
        double share = 0.5;  // mean of what had been done of the rise; of a straight line one half
        double bend_k = 0;   // how far its thirds lie off a straight line, each by its mean
        std::size_t readings = 0;
    };
    Way way() const;
    bool must_show() const;
    bool rested() const;
    bool too_quick() const;
    Answer decide(Way const& done, double certain);
    void over_a_hole(double t, double celsius);
    void rest();

    double least_s_;     // a quicker first rise is that of a thinner body
    double constant_s_;  // a shorter time constant likewise, in air
    double in_liquid_s_;
    bool tested_ = true, thickness_known_ = false, put_in_ = false;
    Answer answer_ = Answer::open;
    bool armed_ = true;         // it was at rest since it last moved slowly, or has just begun
    std::deque<Point> window_;  // from rest on, thinned out
};

}  // namespace ingle
