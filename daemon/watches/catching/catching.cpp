// catching: a thick filling on low heat begins to stick to the bottom. What lies there takes up heat that it
// does not pass on: a probe near the bottom climbs over the plateau that the filling stood at, in bumps, as
// bubbles of steam throw the layer about, or it climbs away from a second probe further up. Stirring brings
// both back to where they were; the layer that catches comes back only in part.
#include <algorithm>
#include <cmath>

#include "daemon/conditioning/followed.hpp"
#include "daemon/watches/watch.hpp"
#include "daemon/watches/words.hpp"

namespace ingle {
namespace {

constexpr std::string_view causes[] = {"boiled-dry", "boiling", "probe-displaced", "probe-stuck"};
constexpr AlarmType types[] = {{.name = "catching",
                                .priority = Priority::medium,
                                .on_delay = std::chrono::seconds(10),
                                .off_delay = std::chrono::minutes(2),
                                .suppressed_by = causes,
                                .value_is_celsius = true,
                                .over = "no longer looks as if it catches"}};

// Our own judgement, held against the scenario bench. No cook stirs a thick filling less often than this.
constexpr int unstirred_s = 9 * 60, soon_s = 4 * 60, at_once_s = 60;
constexpr double lows_k = 1.2, highs_k = 2.0;  // over the plateau, with bumps: of one probe
constexpr double far_highs_k = 5.0;  // no cook who stirs lets it come so far: then its lows are soon enough
constexpr double apart_k = 2.0, far_apart_k = 3.3, very_far_apart_k = 4.5;  // more than usual: of two probes
constexpr double one_pot_k = 8, most_apart_k = 25;
constexpr double unseen_apart_k = 1.5;
constexpr double back_k = 0.5;
constexpr double bump_k = 0.6;  // and four times the noise: a fall within a minute
constexpr double most_bump_k = 3.0;
constexpr int fewest_bumps = 2;
constexpr int past_every_s = 10;     // of what survives a restart
constexpr int looked_every_s = 5;    // it looks far back
constexpr double stands_k = 0.3;     // within four minutes
constexpr double fallen_k = 1.5;     // under its plateau: it is another one
constexpr double elsewhere_k = 10;   // over it: the probe stands in another place, or in another pot
constexpr double coarse_bump = 1.5;  // steps of the instrument
constexpr double near_boil_k = 1.5;  // there it bubbles anyway
constexpr Span plateau_counts = std::chrono::hours(1);

class Catching final : public VesselWatch {
public:
    explicit Catching(TemperatureUnit unit) : words_(unit) {}

    void step(VesselSituation const& now, WatchOutput& out) override {
        Finding finding;
        finding.type = &types[0];
        bool const fresh = now.medium && now.medium->fresh && !now.medium->doubtful;
        if (recalled_at_) {
            past_.skip(now.now - *recalled_at_);
            apart_.skip(now.now - *recalled_at_);
            newest_.skip(now.now - *recalled_at_);
        }
        recalled_at_.reset();
        stepped_ = now.now;
        newest_.put(now.medium ? as_read(*now.medium) : std::nullopt);
        past_.put(newest_.mean(14, 0));
        if (now.medium && !now.medium->fresh) finding.truth = Truth::unknown;
        if (fresh) {
            count_bumps(now);
            compare(now);
            if (second_ = (second_ + 1) % looked_every_s; second_ == 0) {
                catches_ = catches_ ? !came_back() : catches(now);
                find_plateau(now);
            }
            if (catches_) tell(now, finding);
        }
        out.findings.push_back(std::move(finding));
    }

    void remember(Memory& memory, std::string const& prefix) const override {
        memory.put(prefix + "catches", std::int64_t{catches_});
        if (plateau_) {
            memory.put(prefix + "plateau", *plateau_);
            memory.put(prefix + "plateau-at", plateau_at_);
        }
        if (usually_apart_) memory.put(prefix + "usually-apart", *usually_apart_);
        int const kept = std::min(bump_, fewest_bumps);
        for (int i = 0; i < kept; ++i)  // the newest first
            memory.put(prefix + "bump." + std::to_string(i),
                       bumps_[static_cast<std::size_t>((bump_ - 1 - i) % fewest_bumps)]);
        if (!stepped_) return;
        remember_fields(memory, prefix + "state", *this);
        memory.put(prefix + "newest", newest_.text(1));
        memory.put(prefix + "past", past_.text(past_every_s));
        memory.put(prefix + "apart", apart_.text(past_every_s));
        memory.put(prefix + "past-at", *stepped_);
    }
    void recall(Memory const& memory, std::string const& prefix) override {
        catches_ = memory.integer(prefix + "catches").value_or(0) != 0;
        plateau_ = memory.number(prefix + "plateau");
        plateau_at_ = memory.instant(prefix + "plateau-at").value_or(Instant{});
        usually_apart_ = memory.number(prefix + "usually-apart");
        for (int i = fewest_bumps - 1; i >= 0; --i)
            if (auto const bump = memory.instant(prefix + "bump." + std::to_string(i)))
                bumps_[static_cast<std::size_t>(bump_++ % fewest_bumps)] = *bump;
        recalled_at_ = memory.instant(prefix + "past-at");
        if (!recalled_at_ || !past_.read(memory.text(prefix + "past").value_or("")) ||
            !apart_.read(memory.text(prefix + "apart").value_or(""))) {
            recalled_at_.reset();
            past_.clear();
            apart_.clear();
        }
        stepped_ = recalled_at_;
        recall_fields(memory, prefix + "state", *this);
        if (recalled_at_) newest_.read(memory.text(prefix + "newest").value_or(""));
    }
    template <class Visit>
    void fields(Visit& visit) {
        visit(highest_, lowest_, falling_);
        visit.index(second_, looked_every_s);
    }

private:
    void count_bumps(VesselSituation const& now) {
        auto const value = newest_.mean(4, 0);
        if (!value) return;
        double const bump = std::max({bump_k, 4 * now.medium->noise, coarse_bump * now.medium->step});
        highest_ = std::max(highest_, *value);
        lowest_ = std::min(lowest_, *value);
        if (!falling_ && highest_ - *value > bump) {
            falling_ = true;
            lowest_ = *value;
            bumps_[static_cast<std::size_t>(bump_++ % fewest_bumps)] = now.now;
        } else if (falling_ && *value - lowest_ > 0.5 * bump) {
            falling_ = false;
            highest_ = *value;
        }
        if (!falling_) highest_ -= bump / 120;  // a slow fall is none
    }
    bool bumpy(Instant now) const {
        return bump_ >= fewest_bumps &&
               now - bumps_[static_cast<std::size_t>(bump_ % fewest_bumps)] < std::chrono::minutes(12);
    }

    void find_plateau(VesselSituation const& now) {
        auto const newest = past_.mean(60, 0), then = past_.mean(300, 240);
        if (!newest || !then) return;
        bool const still =
            std::abs(*newest - *then) < stands_k &&
            (bump_ == 0 ||
             now.now - bumps_[static_cast<std::size_t>((bump_ + fewest_bumps - 1) % fewest_bumps)] >
                 std::chrono::minutes(5));
        if (plateau_ && !catches_ &&
            (*newest < *plateau_ - fallen_k || *newest > *plateau_ + elsewhere_k ||
             now.now - plateau_at_ > plateau_counts))
            plateau_.reset();
        // What stands higher may be a layer that has caught already: only an even pot counts.
        if (!still || catches_) return;
        plateau_ = *newest;
        plateau_at_ = now.now;
        if (auto const* other = second(now)) usually_apart_ = *newest - other->level;
    }

    static Signal const* second(VesselSituation const& now) {
        for (int const number : now.vessel->more)
            if (auto const& other = now.signals[static_cast<std::size_t>(number)];
                other.fresh && !other.doubtful)
                return &other;
        return nullptr;
    }
    void compare(VesselSituation const& now) {
        auto const* other = second(now);
        auto const value = newest_.mean(14, 0);
        // Two places of one pot are not further apart than this. How far they usually are is seen while it
        // stands; until then something is allowed for it.
        double const usual = usually_apart_.value_or(unseen_apart_k);
        bool const one_pot =
            std::abs(usual) < one_pot_k && other && value && std::abs(*value - other->level) < most_apart_k;
        apart_.put(one_pot ? std::optional(*value - other->level - usual) : std::nullopt);
    }

    // Stirred, or thinned: with what it stood at, or with the second probe.
    bool came_back() const {
        auto const apart = apart_.mean(60, 0), level = past_.mean(60, 0);
        if (apart) return *apart < back_k;
        return !plateau_ || (level && *level < *plateau_ + back_k);
    }
    bool catches(VesselSituation const& now) const {
        double const boil = now.boils_at.value_or(now.boiling_c);
        if (plateau_ && *plateau_ > boil - near_boil_k) return false;
        auto const apart = apart_.lowest(unstirred_s, 0), lately = apart_.lowest(soon_s, 0);
        if ((apart && apart_.full(unstirred_s) && *apart > apart_k) ||
            (lately && apart_.full(soon_s) && *lately > far_apart_k))
            return true;
        auto const* other = second(now);
        auto const at_once = apart_.lowest(at_once_s, 0);
        if (other && other->settled && at_once && apart_.full(at_once_s) && *at_once > very_far_apart_k)
            return true;
        auto const high = past_.highest(soon_s, 0);
        if (!plateau_ || !high || !bumpy(now.now)) return false;
        // A tip that was elsewhere falls by more than a bubble throws it back by.
        auto const newest = past_.mean(2, 0);
        double const highest = *high, plateau = *plateau_;
        bool const far = !other && newest && *newest > plateau + highs_k && highest - *newest < most_bump_k &&
                         highest > plateau + far_highs_k;
        int const stood_s = far ? soon_s : unstirred_s;
        auto const low = past_.lowest(stood_s, 0);
        return low && past_.full(stood_s) && *low > *plateau_ + lows_k && *high > *plateau_ + highs_k;
    }

    void tell(VesselSituation const& now, Finding& finding) const {
        double const level = now.medium->level;
        finding.truth = Truth::present;
        finding.value = level;
        finding.text = now.vessel->name + " is at " + words_.at(level);
        if (auto const* other = second(now); other && apart_.mean(60, 0))
            finding.text += " near the bottom and at " + words_.at(other->level) + " further up";
        else if (plateau_)
            finding.text +=
                " near the bottom, where it stood at " + words_.at(*plateau_) + ", and climbs in bumps";
        finding.text += ": it may begin to catch.";
        finding.action = Action::lower_heat;
        finding.order = "Stir it from the bottom and turn the heat down.";
    }

    Words words_;
    Past<16> newest_;
    Past<unstirred_s + 60> past_, apart_;  // smoothed; how far above a second probe
    std::optional<double> plateau_, usually_apart_;
    Instant plateau_at_{};
    std::optional<Instant> stepped_, recalled_at_;  // the past was read back, and ends there
    double highest_ = -1e9, lowest_ = 1e9;
    bool falling_ = false;
    std::array<Instant, fewest_bumps> bumps_{};
    int bump_ = 0, second_ = 0;
    bool catches_ = false;
};

std::unique_ptr<VesselWatch> make(Settings const& settings, int number) {
    auto const& vessel = settings.vessels[static_cast<std::size_t>(number)];
    if (vessel.kind != VesselKind::pot || vessel.liquid == Liquid::fat || vessel.medium < 0) return nullptr;
    return std::make_unique<Catching>(settings.units);
}

}  // namespace

extern WatchInfo const catching_watch;
WatchInfo const catching_watch{.name = "catching", .alarms = types, .for_vessel = &make};

}  // namespace ingle
