// topped-up, food-added: cold liquid, or cold food, went into a pot. It falls within seconds (food: goes on
// falling for minutes) and comes back; that is work in the kitchen, not an alarm, and the band is silent
// meanwhile, for a bounded time and only while it comes back.
#include <algorithm>
#include <array>

#include "daemon/conditioning/followed.hpp"
#include "daemon/watches/watch.hpp"
#include "daemon/watches/words.hpp"

namespace ingle {
namespace {

constexpr int within_s = 30;
constexpr Span longest_every = std::chrono::seconds(within_s);  // rarer readings cannot tell how fast it fell
constexpr double least_drop_k = 2.0, least_share = 0.025;
constexpr double noises = 6;        // standard deviations: a tip that swings in the air adds nothing
constexpr double most_drop_k = 28;  // more than this in seconds is a probe out of the pot
constexpr Span silence_most = std::chrono::minutes(12), patience = std::chrono::minutes(3);
constexpr Span settled_after = std::chrono::seconds(40), food_within = std::chrono::minutes(6);
// A tip that was pulled half out of the liquid, or held against something, is back within a minute.
constexpr Span handled_for = std::chrono::seconds(60);
constexpr double climbing = 0.1 / 60;    // K/s
constexpr double still_falling = -0.12;  // K/s: that is a tip in the air
// A tip that was elsewhere comes back with its own time constant, of some 40 s at most: from a tenth of the
// depth to six tenths in 0.81 of it. No flame is so fast: 3 kW take 50 s for 5 K of 7 kg.
constexpr double turned = 0.1, regained_most = 0.6;  // of the depth
constexpr double fine_k = 0.25;  // a coarser instrument shows less than it has come back by
constexpr Span like_a_tip = std::chrono::seconds(34);
// More than an eighth of the pot at once (of its height above ice): more likely a tip against something cold,
// which is back within a minute or so. What was poured in stays down, and comes back by itself under the
// flame.
constexpr double most_share = 0.13;
constexpr double recovered = 0.05;  // of the depth, and so much within a minute
constexpr Span surely_settled_after = std::chrono::seconds(90);
constexpr Span undecided = std::chrono::seconds(210);  // a slow tip needs so long to turn back
constexpr double back_k =
    1.0;  // so near to where it was before it was lifted, and for so long, it is back in
constexpr int back_for_s = 20;
constexpr double food_share = 1.25;   // of the fall that a liquid would have stopped at
constexpr double deeper_k = 1.0;      // than in the quarter of an hour before: stirring only brings it back
constexpr double deeper_share = 0.5;  // of the fall: no two stirrings bring it back to quite the same

class Additions final : public VesselWatch {
public:
    explicit Additions(TemperatureUnit unit) : words_(unit) { lowest_.fill(1e9); }

    void step(VesselSituation const& now, WatchOutput& out) override {
        bool const fresh = now.medium && now.medium->fresh;
        if (recalled_at_) past_.skip(now.now - *recalled_at_);
        recalled_at_.reset();
        stepped_ = now.now;
        past_.put(now.medium ? as_read(*now.medium) : std::nullopt);
        if (!fresh) return;
        followed_.take(*now.medium);
        if (now.phase != BandPhase::held || now.band_since != band_since_) held_since_ = now.now;
        band_since_ = now.band_since;
        auto const value = past_.mean(2, 0);
        if (!value) return;
        keep_lowest(*value);
        double const room = now.room_c.value_or(20);
        if (!fell_) {
            auto const then = past_.mean(within_s + 6, within_s);
            if (!then) return;
            double const least =
                std::max({least_drop_k, least_share * (*then - room), noises * now.medium->noise});
            if (in_air(*value, now.now)) return;
            if (now.medium->doubtful || *then - *value < least) return;
            // On the way to a band, or without one, it is not known what stands in what.
            if (now.now - held_since_ < std::chrono::seconds(4 * within_s)) return;
            fell_ = turned_at_ = now.now;
            before_ = back_in_at_ && now.now - *back_in_at_ < std::chrono::minutes(1)
                          ? *then
                          : past_.mean(60, within_s).value_or(*then);
            bottom_ = *value;
            lowest_before_ = lowest_lately();
            first_depth_ = 0;
            told_ = false;
            return;
        }
        bottom_ = std::min(bottom_, *value);
        Span const since = now.now - *fell_;
        double const depth = before_ - bottom_;
        if (depth > most_drop_k) {
            lifted(now.now + silence_most);
            return;
        }
        // Its own rate: the trend of the pot waits until the probe has settled.
        double const rate = (past_.mean(4, 0).value_or(*value) - past_.mean(30, 26).value_or(*value)) / 26;
        bool const deep = depth > most_share * before_;
        Span const judged_after = deep ? surely_settled_after : settled_after;
        double const regained = depth > 0 ? (*value - bottom_) / depth : 0;
        if (regained < turned) turned_at_ = now.now;
        Span const rising = now.now - turned_at_;
        double const rounding = depth > 0 ? std::max(0.0, now.medium->step - fine_k) / depth : 0;
        bool const back_soon = regained + rounding > regained_most && rising < like_a_tip;
        bool const elsewhere = back_soon || (deep && since > undecided);
        if (!told_ && (elsewhere || now.medium->every > longest_every)) {
            lifted(now.now + std::chrono::seconds(2 * within_s));  // the same fall is not another one
            return;
        }
        bool const on_its_way = rising > Span(0) && rising < like_a_tip;
        if (!told_ && since >= judged_after && !on_its_way) {
            if (first_depth_ == 0) first_depth_ = depth;
            // A liquid mixes within seconds; food goes on taking heat for minutes. What falls on is neither.
            bool const stopped = rate > -0.004 || *value > bottom_ + 0.1 * depth;
            if (now.medium->doubtful || rate < still_falling || (!stopped && since > food_within)) {
                fell_.reset();
                return;
            }
            auto const minute_ago = past_.mean(62, 56);
            bool const recovers = regained > recovered && minute_ago &&
                                  past_.mean(6, 0).value_or(*value) - *minute_ago > recovered * depth;
            if (deep ? recovers : stopped && since >= handled_for) tell(depth, now, out);
        }
        bool const back = *value > bottom_ + 0.9 * depth && since > settled_after;
        auto const minute_ago = past_.mean(62, 56);
        double const climbs = minute_ago ? (past_.mean(6, 0).value_or(*value) - *minute_ago) / 56 : 0;
        bool const coming =
            told_ ? now.now - told_at_ < patience || std::max(followed_.slope(), climbs) > climbing
                  : since < food_within;
        if (back || !coming || since > silence_most) {
            if (told_) fell_.reset();
        } else {
            out.silence_band = "topped-up";
        }
    }

    void remember(Memory& memory, std::string const& prefix) const override {
        remember_fields(memory, prefix + "state", *this);
        if (stepped_) {
            memory.put(prefix + "past", past_.text(1));
            memory.put(prefix + "past-at", *stepped_);
        }
        if (in_air_until_ > Instant{}) memory.put(prefix + "in-air-until", in_air_until_);
        if (!fell_) return;
        memory.put(prefix + "fell", *fell_);
        memory.put(prefix + "turned", turned_at_);
        memory.put(prefix + "before", before_);
        memory.put(prefix + "bottom", bottom_);
        memory.put(prefix + "lowest-before", lowest_before_);
        memory.put(prefix + "first-depth", first_depth_);
        if (told_) memory.put(prefix + "told", told_at_);
    }
    void recall(Memory const& memory, std::string const& prefix) override {
        recall_fields(memory, prefix + "state", *this);
        recalled_at_ = memory.instant(prefix + "past-at");
        if (!recalled_at_ || !past_.read(memory.text(prefix + "past").value_or(""))) recalled_at_.reset();
        stepped_ = recalled_at_;
        in_air_until_ = memory.instant(prefix + "in-air-until").value_or(Instant{});
        fell_ = memory.instant(prefix + "fell");
        auto const turned_at = memory.instant(prefix + "turned");
        auto const before = memory.number(prefix + "before"), bottom = memory.number(prefix + "bottom");
        if (!fell_ || !turned_at || !before || !bottom || *bottom > *before) return fell_.reset();
        turned_at_ = *turned_at;
        before_ = *before;
        bottom_ = *bottom;
        lowest_before_ = memory.number(prefix + "lowest-before").value_or(1e9);
        first_depth_ = memory.number(prefix + "first-depth").value_or(0);
        told_ = memory.instant(prefix + "told").has_value();
        told_at_ = memory.instant(prefix + "told").value_or(Instant{});
    }

    template <class Visit>
    void fields(Visit& visit) {
        visit(followed_, lowest_, held_since_, band_since_, lifted_from_, back_s_, back_in_at_);
        visit.index(second_, 60);
        int minute = static_cast<int>(minute_);
        visit.index(minute, minutes_kept);
        minute_ = static_cast<std::size_t>(minute);
    }

private:
    // The tip was elsewhere: what falls until then is the tip, unless it has come back before.
    void lifted(Instant until) {
        in_air_until_ = until;
        lifted_from_ = before_;
        back_s_ = 0;
        fell_.reset();
    }
    bool in_air(double value, Instant now) {
        if (now >= in_air_until_) return false;
        back_s_ = value > lifted_from_ - back_k ? back_s_ + 1 : 0;
        if (back_s_ < back_for_s) return true;
        in_air_until_ = now;
        back_in_at_ = now;
        return false;
    }
    void keep_lowest(double value) {
        auto& newest = lowest_[static_cast<std::size_t>(minute_)];
        newest = second_ == 0 ? value : std::min(newest, value);
        if (++second_ < 60) return;
        second_ = 0;
        minute_ = (minute_ + 1) % minutes_kept;
    }
    // Of the quarter of an hour before the last two minutes.
    double lowest_lately() const {
        double least = 1e9;
        for (std::size_t ago = 2; ago < minutes_kept; ++ago)
            least = std::min(least, lowest_[(minute_ + minutes_kept - ago) % minutes_kept]);
        return least;
    }

    void tell(double depth, VesselSituation const& now, WatchOutput& out) {
        told_ = true;
        told_at_ = now.now;
        if (bottom_ > lowest_before_ - std::max(deeper_k, deeper_share * depth)) return;
        bool const food = depth > food_share * first_depth_;
        Event event{now.now,
                    food ? "food-added" : "topped-up",
                    {SubjectKind::vessel, now.number},
                    "",
                    {{"depth_c", depth}}};
        event.text = now.vessel->name + " fell by " + words_.by(depth) + " to " + words_.at(bottom_) +
                     (food ? " and went on falling for minutes, as when something cold is put in to cook."
                           : " within half a minute and stayed there, as when something cold is poured in.");
        out.events.push_back(std::move(event));
    }

    static constexpr std::size_t minutes_kept = 17;
    Words words_;
    std::array<double, minutes_kept> lowest_{};
    std::size_t minute_ = 0;
    int second_ = 0;
    Past<64> past_;
    Followed followed_{1e-7};
    std::optional<Instant> fell_, stepped_;
    std::optional<Instant> recalled_at_;  // the past was read back, and ends there
    Instant told_at_{}, in_air_until_{}, held_since_{}, band_since_{};
    Instant turned_at_{};  // it was at the bottom last
    double before_ = 0, bottom_ = 0, lowest_before_ = 0;
    double lifted_from_ = 0;  // degC, before it was
    int back_s_ = 0;
    std::optional<Instant> back_in_at_;
    double first_depth_ = 0;  // K, when a liquid would have mixed
    bool told_ = false;
};

std::unique_ptr<VesselWatch> make(Settings const& settings, int number) {
    auto const& vessel = settings.vessels[static_cast<std::size_t>(number)];
    bool const liquid = holds_liquid(vessel.kind);
    if (!liquid || vessel.medium < 0) return nullptr;
    return std::make_unique<Additions>(settings.units);
}

}  // namespace

extern WatchInfo const additions_watch;
WatchInfo const additions_watch{.name = "additions", .alarms = {}, .for_vessel = &make};

}  // namespace ingle
