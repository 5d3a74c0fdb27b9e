// boiled-dry: a pot that climbs off its boiling plateau, or that is hotter than what boils in it can be.
// While there is liquid it cannot get hotter than it boils; once it can, there is none at the probe. A stock
// that thickens creeps, and the plateau that `boiling` follows creeps with it.
#include <cmath>

#include "daemon/conditioning/followed.hpp"
#include "daemon/watches/watch.hpp"
#include "daemon/watches/words.hpp"

namespace ingle {
namespace {

constexpr AlarmType types[] = {{.name = "boiled-dry",
                                .priority = Priority::high,
                                .on_delay = std::chrono::seconds(5),
                                .off_delay = std::chrono::minutes(1),
                                .value_is_celsius = true,
                                .over = "no longer looks boiled dry"}};

constexpr double off_k = 2.3;           // off the plateau and climbing: one that only just boils wavers by 2
constexpr double proven_over_k = 1.5;   // over the expected boiling point
constexpr double climbing = 0.25 / 60;  // K/s
constexpr double over_boil_k =
    1.0;  // where the height is known: what reads less may still be on its way to the boil
constexpr double far_off_k = 3.5;  // off the plateau, however slowly

// Above the boiling point at which no water, no salt and no weather explains it.
constexpr double impossible_k = 6.0;
constexpr double proven_k = 3.5;         // a plateau so near to the expected boiling point is one
constexpr double air_slope = 30.0 / 60;  // K/s: faster is a probe in a flame

class BoiledDry final : public VesselWatch {
public:
    explicit BoiledDry(Settings const& settings)
        : words_(settings.units), height_known_(settings.altitude || settings.pressure) {}

    void step(VesselSituation const& now, WatchOutput& out) override {
        Finding finding;
        finding.type = &types[0];
        if (now.medium && now.medium->fresh) {
            followed_.take(*now.medium);
            if (now.boils_at) boiled_at_ = now.boils_at;
            end_where_it_boils_again(now);
            if (followed_.settled(now.now, std::chrono::minutes(1))) judge(now);
            if (dry_) tell(now, finding);
        } else {
            finding.truth = Truth::unknown;
        }
        out.findings.push_back(std::move(finding));
    }

    void remember(Memory& memory, std::string const& prefix) const override {
        remember_fields(memory, prefix + "trend", followed_);
        if (dry_) memory.put(prefix + "dry", std::int64_t{1});
        if (boiled_at_) memory.put(prefix + "boiled-at", *boiled_at_);
    }
    void recall(Memory const& memory, std::string const& prefix) override {
        recall_fields(memory, prefix + "trend", followed_);
        dry_ = memory.integer(prefix + "dry").value_or(0) != 0;
        boiled_at_ = memory.number(prefix + "boiled-at");
    }

private:
    // By its newest readings alone: no trend is needed to see that it is as cool as what boils.
    void end_where_it_boils_again(VesselSituation const& now) {
        double const level = now.medium->level;
        if (!dry_ || level - now.boils_at.value_or(now.boiling_c) >= 1.0) return;
        dry_ = false;
        boiled_at_ = now.boils_at;
    }

    void judge(VesselSituation const& now) {
        double const level = now.medium->level, slope = now.medium->slope;
        double const over = now.boils_at ? level - *now.boils_at : 0;
        double const hotter = level - now.boiling_c;
        if (now.medium->doubtful || slope > air_slope) return;
        // Below where it boils at a known height, a slow rise goes to the boil, not away from it.
        bool const may_boil_here = !height_known_ || hotter > over_boil_k;
        bool const off_plateau = may_boil_here && ((over > off_k && slope > climbing) || over > far_off_k);
        bool const impossible = hotter > impossible_k && followed_.slope() > climbing;
        dry_ = dry_ || off_plateau || impossible;
    }

    void tell(VesselSituation const& now, Finding& finding) const {
        double const level = now.medium->level;
        // Where the height is not known, it may have stood still for another reason than boiling.
        bool const proven = (boiled_at_ && std::abs(*boiled_at_ - now.boiling_c) < proven_k) ||
                            level > now.boiling_c + proven_over_k;
        finding.truth = Truth::present;
        finding.value = level;
        if (!proven) finding.priority = Priority::medium;
        finding.text = now.vessel->name;
        if (boiled_at_)
            finding.text += (proven ? " boiled at " : " stood still as if it boiled, at ") +
                            words_.at(*boiled_at_) + ", and is at " + words_.at(level);
        else
            finding.text += " is at " + words_.at(level) + ", hotter than what boils in it";
        if (now.medium->settled) finding.text += ", " + words_.moving(now.medium->slope);
        finding.text += std::string(": it may be running dry") +
                        (boiled_at_ ? "." : ", or its probe may be of another type.");
        finding.action = Action::lower_heat;
        finding.order = "Turn off the heat and look.";
    }

    Words words_;
    bool height_known_;
    Followed followed_{1e-8};
    bool dry_ = false;
    std::optional<double> boiled_at_;  // degC, the plateau that it left
};

std::unique_ptr<VesselWatch> make(Settings const& settings, int number) {
    auto const& vessel = settings.vessels[static_cast<std::size_t>(number)];
    bool const boils = vessel.kind == VesselKind::pot && vessel.liquid == Liquid::water;
    if (!boils || vessel.medium < 0) return nullptr;
    return std::make_unique<BoiledDry>(settings);
}

}  // namespace

extern WatchInfo const boiled_dry_watch;
WatchInfo const boiled_dry_watch{.name = "boiled_dry", .alarms = types, .for_vessel = &make};

}  // namespace ingle
