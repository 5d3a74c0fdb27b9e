// probe-reversed: plus and minus swapped at the connector. The reading is then mirrored about the cold
// junction: it falls when the pot heats, and a cold fridge reads warm. The sign is never quietly turned
// round.
#include "daemon/conditioning/followed.hpp"
#include "daemon/watches/watch.hpp"
#include "daemon/watches/words.hpp"

namespace ingle {
namespace {

constexpr AlarmType types[] = {{.name = "probe-reversed",
                                .priority = Priority::medium,
                                .on_delay = std::chrono::seconds(60),
                                .over = "no longer reads as if its wires were swapped"}};

constexpr double far_k = 8;  // on the wrong side of the cold junction; a joint near a hob is a few kelvin off

class ProbeReversed final : public ProbeWatch {
public:
    explicit ProbeReversed(TemperatureUnit unit) : words_(unit) {}

    void step(ProbeSituation const& now, WatchOutput& out) override {
        auto const& signal = *now.signal;
        Finding finding;
        finding.type = &types[0];
        if (signal.fresh && signal.cold_junction) {
            double const beyond = signal.celsius - *signal.cold_junction;
            bool const hot = now.vessel->kind != VesselKind::fridge;
            // A hot vessel cannot be colder than the board beside it, a fridge not warmer.
            if (hot ? beyond < -far_k : beyond > far_k) swapped_ = true;
            if (hot ? beyond > -far_k / 2 : beyond < far_k / 2) swapped_ = false;
            if (swapped_) {
                text_ = now.probe->name + " reads " + words_.at(signal.celsius) +
                        " where its connector is at " + words_.at(*signal.cold_junction) +
                        ", as if + and - were exchanged; then it would be at " +
                        words_.at(2 * *signal.cold_junction - signal.celsius) +
                        ". Check + and - of this probe, and of its extension.";
            }
            finding.value = signal.celsius;
        }
        if (swapped_) {
            finding.truth = Truth::present;  // also while its values are refused as implausible
            finding.text = text_;
        }
        out.findings.push_back(std::move(finding));
    }

    void remember(Memory& memory, std::string const& prefix) const override {
        if (swapped_) memory.put(prefix + "swapped", text_);
    }
    void recall(Memory const& memory, std::string const& prefix) override {
        auto const text = memory.text(prefix + "swapped");
        swapped_ = text.has_value();
        text_ = text.value_or("");
    }

private:
    Words words_;
    bool swapped_ = false;
    std::string text_;
};

std::unique_ptr<ProbeWatch> make(Settings const& settings, int probe) {
    for (auto const& vessel : settings.vessels) {
        if (vessel.medium != probe || vessel.kind == VesselKind::room) continue;
        return std::make_unique<ProbeReversed>(settings.units);
    }
    return nullptr;
}

}  // namespace

extern WatchInfo const probe_reversed_watch;
WatchInfo const probe_reversed_watch{.name = "probe_reversed", .alarms = types, .for_probe = &make};

}  // namespace ingle
