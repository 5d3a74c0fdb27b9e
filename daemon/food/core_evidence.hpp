// Which readings of a core probe are the core's own. A core moves slowly and smoothly; a tip that is pulled
// out, dropped into the liquid or pushed somewhere else does not. What moved too fast counts for nothing
// until the tip is slow again where the core could be by then. Stage, ledger, forecast, review and
// calculators see a core only through this judge. Owned by the ledger, one per core probe; pure; bounded
// memory.
#pragma once

#include <deque>
#include <optional>
#include <string_view>
#include <vector>

#include "config/quantity.hpp"
#include "config/settings.hpp"
#include "daemon/food/body_bounds.hpp"
#include "daemon/food/phase.hpp"
#include "daemon/food/return_path.hpp"
#include "daemon/food/slide_watch.hpp"
#include "daemon/food/stand_watch.hpp"
#include "daemon/food/state.hpp"
#include "daemon/food/thermal_lag.hpp"

namespace ingle {

// Why a reading is not the core's own.
enum class CoreDoubt {
    none,
    moved,          // faster than a core, or settled where the core cannot be
    at_medium,      // as warm as the air or the liquid around the food, from the start
    unsettled,      // too few readings, or moving, since the start or since it was moved
    above_boiling,  // no food that holds water gets so hot
    no_body,        // it moves as air or a surface does, and not as the centre of a body
    stuck           // it stands to the last digit where no middle would
};
std::string_view to_word(CoreDoubt doubt);

// No core that holds water reads higher, where water boils at `boiling_c`. degC
double hottest_core_c(double boiling_c);

struct JudgedReading {
    double t = 0, celsius = 0;  // s, degC
    bool doubtful = false;      // as conditioning has it
    CoreDoubt doubt = CoreDoubt::none;
    bool after_move = false;  // the first one that counts after readings that did not: a gap lies before it
    bool new_place = false;   // and it is not where the tip was before: what was credited there is void
    std::optional<double> medium;  // that was around the food then, degC
    bool voids = false;  // does not count, and shows that what was read before it was no core's either
    std::optional<double> back_to = {};  // does not count, nor does what was read after that moment
};

class CoreEvidence {
public:
    static constexpr double hold_s = 30;  // until a reading is certain

    // `food`: its class bounds what is not said; nullptr: not known. `boiling_c`: of water here.
    explicit CoreEvidence(std::optional<Length> thickness, FoodClass const* food = nullptr,
                          double boiling_c = 100, std::optional<Shape> shape = {});

    // One reading, s and degC; times must not go back. `medium_c`: of the medium, if it is measured now.
    void take(double t, double celsius, bool doubtful, FoodPhase phase, std::optional<double> medium_c);
    void advance(double t);
    void restart();  // an unknown time has passed

    // What has become certain since the last call, in time order. A reading is certain half a minute after
    // it, when nothing that came since contradicts it.
    std::vector<JudgedReading> take_judged();

    // The newest readings that count so far, certain or not; empty while none counts.
    struct Present {
        double certain_t = 0, certain_c = 0;  // the newest certain one
        double newest_t = 0, newest_c = 0;
        double lowest_c = 0, highest_c = 0;            // of the certain one and all newer ones
        double lowest_read_c = 0, highest_read_c = 0;  // and of those that may prove to be a move
        bool doubtful = false;                         // any of them
        int places = 0;                                // how often it was moved to another place that counts
    };
    std::optional<Present> present() const;
    CoreDoubt doubt() const { return doubt_; }   // of the newest reading
    bool shown() const { return lag_.shown(); }  // that the tip is in a body
    // Counted, but moves as air does: nothing good may be told by it.
    bool bare() const { return lag_.bare(); }

    void fields(FieldVisitor& visit);

private:
    struct Point {
        double t = 0, c = 0;
        bool doubtful = false, at_medium = false;
        std::optional<double> medium = {};
    };
    // Where the tip was when it last counted, and how fast it moved there, K/s.
    struct Anchor {
        double t = 0, c = 0, slope = 0;
        bool at_medium = false;
    };
    enum class State { starting, following, away };

    double allowed(double apart_s, double slope) const;
    bool follows(Point const& point) const;
    bool stays_away(Point const& point) const;
    void follow(Point const& point, FoodPhase phase);
    void suspect(Point const& point, FoodPhase phase);
    bool came_unseen(Point const& point, FoodPhase phase) const;
    void leave();
    void leave_unseen(Point const& point);
    bool find_slide(Point const& point, FoodPhase phase);
    void find_bare(Point const& point, CoreDoubt why);
    bool find_stuck(Point const& point);
    void begin_after_hole(Point const& point, FoodPhase phase);
    bool still_stuck(Point const& point, FoodPhase phase);
    void follow_bare(Point const& point, FoodPhase phase);
    void see_return(bool heated);
    void look_again(Point const& point, FoodPhase phase);
    bool settled() const;
    bool may_be_ramp() const;
    bool could_be(Anchor const& anchor, FoodPhase phase) const;
    bool goes_as_it_came(Anchor const& anchor) const;
    bool other_place(Anchor const& anchor, FoodPhase phase) const;
    void accept_run(bool new_place, FoodPhase phase);
    void refuse(Point const& point, CoreDoubt why);
    void refuse_run(CoreDoubt why);
    void release(double until);
    bool alone_after_a_hole() const;
    double better_by(Point const& from, Point const& to) const;
    bool leapt() const;
    bool borne_out() const;
    void drop_leap(Point const& point);
    double slope_span_s() const;
    double slope_now() const;
    double interval_s() const;
    void watch_start(Point const& point);
    double run_slope() const;

    double hottest_;  // degC, no core is hotter
    double boiling_;
    double fastest_;  // K/s, no core moves faster
    BodyBounds bounds_;
    double drift_;  // K/s, how far from its last level it is looked for after it was moved
    State state_ = State::starting;
    CoreDoubt doubt_ = CoreDoubt::unsettled;
    std::deque<Point> past_;         // certain ones of the last minutes, thinned out; the newest is kept
    std::deque<Point> pending_;      // they count, unless the next half minute contradicts them
    std::deque<Point> run_;          // following: too far from the rest; else since it was slow
    std::optional<Anchor> anchor_;   // while it is away
    std::optional<Anchor> earlier_;  // the place before the present one
    ReturnPath path_;                // while it is away
    std::optional<Point> lowest_, highest_;    // while it is starting, each with its latest time
    bool came_at_once_ = true, slid_ = false;  // of the run: how it began; it never left at once
    bool stray_ = false;                       // its newest is off by noise
    bool slid_out_ = false;                    // away, since it was found so
    SlideWatch slide_;
    StandWatch stand_;
    bool stuck_ = false;  // away, since its reading stood for too long
    ThermalLag lag_;
    std::optional<double> around_;  // as of the newest reading, degC
    bool heated_ = false;           // and whether a core is then waited for from below,
    bool cooled_ = false;           // or from above
    bool unseen_ = false;           // away, since it came far while nobody looked
    bool bare_ = false;             // away, since it was found not to be in a body
    bool put_in_ = false;           // and it has left the place where it was found so
    bool break_next_ = false, new_place_next_ = false;
    int places_ = 0;
    std::vector<JudgedReading> judged_;
};

}  // namespace ingle
