// boiled-dry: a pot that climbs off its boiling plateau. While there is liquid it cannot get hotter than it
// boils; once it can, there is none at the probe. A stock that thickens creeps, and the plateau creeps with
// it.
#include <algorithm>

#include "daemon/conditioning/followed.hpp"
#include "daemon/watches/plateau.hpp"
#include "daemon/watches/watch.hpp"
#include "daemon/watches/words.hpp"

namespace ingle {
namespace {

constexpr AlarmType types[] = {{.name = "boiled-dry",
                                .priority = Priority::high,
                                .on_delay = std::chrono::seconds(5),
                                .off_delay = std::chrono::minutes(1)}};

constexpr double off_k = 1.5;           // off the plateau and climbing
constexpr double climbing = 0.25 / 60;  // K/s
constexpr double far_off_k = 3.5;       // off the plateau, however slowly

class BoiledDry final : public VesselWatch {
public:
    explicit BoiledDry(TemperatureUnit unit) : words_(unit) {}

    void step(VesselSituation const& now, WatchOutput& out) override {
        Finding finding;
        finding.type = &types[0];
        if (now.medium && now.medium->fresh) {
            followed_.take(*now.medium);
            double const level = now.medium->level;
            if (followed_.settled(now.now, std::chrono::minutes(1))) {
                plateau_.step(level, followed_.slope(), now.boiling_c);
            }
            if (auto const plateau = plateau_.level()) {
                double const over = level - *plateau;
                if (dry_ && over < 1.0) dry_ = false;
                if (!now.medium->doubtful &&
                    ((over > off_k && now.medium->slope > climbing) || over > far_off_k)) {
                    dry_ = true;
                }
            } else {
                dry_ = false;
            }
            if (dry_) {
                finding.truth = Truth::present;
                finding.value = level;
                finding.action = Action::lower_heat;
                finding.text = now.vessel->name + " boiled at " + words_.at(*plateau_.level()) +
                               " and is at " + words_.at(level) + ", " + words_.moving(now.medium->slope) +
                               ": it may be running dry.";
                finding.order = "Turn off the heat and look.";
            }
        } else {
            finding.truth = Truth::unknown;
        }
        out.findings.push_back(std::move(finding));
    }

    void remember(Memory& memory, std::string const& prefix) const override {
        plateau_.remember(memory, prefix);
    }
    void recall(Memory const& memory, std::string const& prefix) override { plateau_.recall(memory, prefix); }

private:
    Words words_;
    Followed followed_{1e-8};
    Plateau plateau_;
    bool dry_ = false;
};

std::unique_ptr<VesselWatch> make(Settings const& settings, int number) {
    auto const& vessel = settings.vessels[static_cast<std::size_t>(number)];
    if (vessel.kind != VesselKind::pot || vessel.medium < 0) return nullptr;
    return std::make_unique<BoiledDry>(settings.units);
}

}  // namespace

extern WatchInfo const boiled_dry_watch;
WatchInfo const boiled_dry_watch{.name = "boiled_dry", .alarms = types, .for_vessel = &make};

}  // namespace ingle
