#include "daemon/watches/heat/food_added.hpp"

#include <algorithm>

namespace ingle {
namespace {

constexpr Span looked_at = std::chrono::minutes(5);  // after it was shut: air is back, cold food is not warm
constexpr Span longest = std::chrono::minutes(4);    // open for longer, the walls have cooled too
constexpr Span walls_back = std::chrono::minutes(25);  // opened again before: they are colder than it knows
// The walls gave heat while the door was open, so that a part of the depth is missing afterwards: an eighth
// or so, until this chamber has shown how much. Our own judgement, held against the scenario bench.
constexpr double usual_limit = 0.165, factor = 1.25;
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
            turned_at_ = now.now - change.recovery;
        }
        turned_before_ = now.now;
    }
    if (!turned_at_ || now.now - *turned_at_ < looked_at) return;
    turned_at_.reset();
    double const missing = before_ - now.medium->level;
    if (missing > std::max(least_k, limit() * depth_)) {
        Event event{now.now, "food-added", {SubjectKind::vessel, now.number}, "", {}};
        event.text = now.vessel->name + " settled " + words.by(missing) +
                     " lower after the door shut: perhaps something cold went in. If nothing did, its walls "
                     "cooled and it is back within half an hour.";
        event.numbers = {{"missing_c", missing}};
        out.events.push_back(std::move(event));
    } else {
        shares_[static_cast<std::size_t>(known_) % shares_.size()] = missing / depth_;
        ++known_;
    }
}

}  // namespace ingle
