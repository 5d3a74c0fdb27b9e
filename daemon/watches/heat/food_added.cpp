#include "daemon/watches/heat/food_added.hpp"

#include <algorithm>

namespace ingle {
namespace {

// After it was shut the air is back and cold food is not warm: the mean over these minutes counts, so that
// neither the probe's noise nor a breath of the fire decides.
constexpr Span looked_from = std::chrono::minutes(4), looked_until = std::chrono::minutes(6);
constexpr int least_looked_s = 60;
constexpr Span longest = std::chrono::minutes(4);      // open for longer, the walls have cooled too
constexpr Span walls_back = std::chrono::minutes(25);  // opened again before: they are colder than it knows
// The walls gave heat while the door was open, the more the longer it was, so that a part of the depth is
// missing afterwards: an eighth or so after a minute, until this chamber has shown how much. Of a moment's
// opening the share; it doubles in so long. Our own judgement, held against the scenario bench.
constexpr double usual_limit = 0.115, factor = 1.22, doubles_in_s = 180;
constexpr double least_k = 3.0;
// Of the height above the room, within seconds: air does, and a slow tip shows less of it. How deep it was is
// then not known, nor how much of it should be back.
constexpr double air_share = 0.2;
constexpr double usual_room_c = 20;

}  // namespace

double FoodAdded::limit() const {
    if (known_ < 2) return usual_limit;
    auto const end = shares_.begin() + std::min<int>(known_, static_cast<int>(shares_.size()));
    return factor * *std::max_element(shares_.begin(), end);
}

void FoodAdded::step(Opening::Change const& change, Opening const& opening, VesselSituation const& now,
                     Words const& words, WatchOutput& out) {
    if (change.opened || opening.state() == Opening::State::stuck) turned_at_.reset();
    if (change.closed) {
        bool const again = turned_before_ && now.now - *turned_before_ < walls_back;
        double const height = opening.before() - now.room_c.value_or(usual_room_c);
        bool const depth_known = change.steepest_k > air_share * height;
        if (!again && depth_known && !change.opened && change.depth_k > 0 && change.length < longest) {
            before_ = opening.before();
            depth_ = change.depth_k;
            length_s_ = seconds(change.length);
            turned_at_ = now.now - change.recovery;
            sum_ = looked_s_ = 0;
        }
        turned_before_ = now.now;
    }
    if (!turned_at_ || now.now - *turned_at_ < looked_from) return;
    sum_ += now.medium->level;
    ++looked_s_;
    if (now.now - *turned_at_ < looked_until) return;
    turned_at_.reset();
    if (looked_s_ < least_looked_s) return;
    double const missing = before_ - sum_ / looked_s_, walls = 1 + length_s_ / doubles_in_s;
    if (missing > std::max(least_k, limit() * walls * depth_)) {
        Event event{now.now, "food-added", {SubjectKind::vessel, now.number}, "", {}};
        event.text = now.vessel->name + " settled " + words.by(missing) +
                     " lower after the door shut: perhaps something cold went in. If nothing did, its walls "
                     "cooled and it is back within half an hour.";
        event.numbers = {{"missing_c", missing}};
        out.events.push_back(std::move(event));
    } else {
        shares_[static_cast<std::size_t>(known_) % shares_.size()] = missing / depth_ / walls;
        ++known_;
    }
}

}  // namespace ingle
