// What the judge of a core probe keeps over a restart.
#include "daemon/food/core_evidence.hpp"

#include <algorithm>

namespace ingle {
namespace {

constexpr int states = 3;  // of CoreEvidence::State

}  // namespace

// Pending readings and runs are not kept: after a restart they are a short gap.
void CoreEvidence::fields(FieldVisitor& visit) {
    auto const point = [&](Point& one) {
        visit.number(one.t);
        visit.number(one.c);
        visit.flag(one.at_medium);
    };
    auto const anchor = [&](std::optional<Anchor>& one) {
        bool there = one.has_value();
        visit.flag(there);
        Anchor read = one.value_or(Anchor{});
        for (double* n : {&read.t, &read.c, &read.slope}) visit.number(*n);
        visit.flag(read.at_medium);
        if (there) one = read;
    };
    bool known = !past_.empty();
    Point first = known ? past_.front() : Point{}, last = known ? past_.back() : Point{};
    // In one number, so that what was written before there were two more is read as it was meant.
    int state = static_cast<int>(state_) + (unseen_     ? states
                                            : slid_out_ ? 2 * states
                                            : stuck_    ? 3 * states
                                                        : 0);
    visit.choice(state);
    unseen_ = state / states == 1;
    slid_out_ = state / states == 2;
    stuck_ = state / states == 3;
    state_ = static_cast<State>(std::clamp(state % states, 0, states - 1));
    visit.flag(known);
    point(first);
    point(last);
    anchor(anchor_);
    anchor(earlier_);
    visit.flag(break_next_);
    visit.flag(new_place_next_);
    visit.choice(places_);
    visit.flag(bare_);
    visit.flag(put_in_);
    lag_.fields(visit);
    if (!past_.empty() || !pending_.empty()) return;  // it was writing
    if (known && state_ == State::following) past_ = {first, last};
    if (!known && state_ == State::following) state_ = State::starting;
    if (state_ == State::away && !anchor_) state_ = State::starting;
    stuck_ = stuck_ && state_ == State::away;
    doubt_ = state_ == State::following ? CoreDoubt::none
             : bare_                    ? CoreDoubt::no_body
             : stuck_                   ? CoreDoubt::stuck
             : state_ == State::away    ? CoreDoubt::moved
                                        : CoreDoubt::unsettled;
}

void CoreEvidence::restart() {
    for (auto const& one : pending_) refuse(one, CoreDoubt::unsettled);
    pending_.clear();
    refuse_run(CoreDoubt::unsettled);
    past_.clear();
    anchor_.reset();
    earlier_.reset();
    lowest_.reset();
    highest_.reset();
    state_ = State::starting;
    bare_ = put_in_ = unseen_ = slid_out_ = stuck_ = false;
    slide_.clear();
    stand_.clear();
    if (!lag_.in_a_body()) lag_.begin_again();
    doubt_ = CoreDoubt::unsettled;
    break_next_ = true;
}

}  // namespace ingle
