// probe-silent: nothing usable came from a probe for too long, and it is not a broken or shorted wire (that
// is `probe_fault`'s to say). Quiet looks like fine; this is the watch that says it is not.
#include <algorithm>

#include "daemon/watches/watch.hpp"
#include "daemon/watches/words.hpp"

namespace ingle {
namespace {

// A broken wire is its own alarm and the reason of the silence.
constexpr std::string_view causes[] = {"probe-open", "probe-short", "probe-implausible"};
constexpr AlarmType types[] = {
    {.name = "probe-silent", .priority = Priority::medium, .suppressed_by = causes}};

bool said_by_probe_fault(FaultKind kind) {
    switch (kind) {
        case FaultKind::open:
        case FaultKind::short_to_ground:
        case FaultKind::short_to_supply:
        case FaultKind::short_circuit:
        case FaultKind::out_of_range:
            return true;
        default:
            return false;
    }
}

class ProbeSilent final : public ProbeWatch {
public:
    explicit ProbeSilent(ProbeSettings const& probe, TemperatureUnit unit)
        : limit_(std::max(from_seconds(30), from_seconds(5 * probe.every.seconds))), words_(unit) {}

    void step(ProbeSituation const& now, WatchOutput& out) override {
        auto const& signal = *now.signal;
        Finding f;
        f.type = &types[0];
        if (signal.silent_since && now.now - *signal.silent_since >= limit_ &&
            !(signal.fault && said_by_probe_fault(signal.fault->kind))) {
            Span const silent = now.now - *signal.silent_since;
            f.truth = Truth::present;
            f.value = seconds(silent);
            // A quarter of an hour without eyes on the food is no longer a loose plug.
            if (silent >= std::chrono::minutes(15)) f.priority = Priority::high;
            f.text = "no reading from " + now.probe->name + " for " + Words::in(silent);
            if (signal.fault) f.text += " (" + signal.fault->reason + ")";
            f.text += signal.age ? "; last known " + words_.at(signal.celsius) + "." : "; it has never read.";
        }
        out.findings.push_back(std::move(f));
    }

private:
    Span limit_;
    Words words_;
};

std::unique_ptr<ProbeWatch> make(Settings const& settings, int probe) {
    return std::make_unique<ProbeSilent>(settings.probes[static_cast<std::size_t>(probe)], settings.units);
}

}  // namespace

extern WatchInfo const probe_silent_watch;
WatchInfo const probe_silent_watch{.name = "probe_silent", .alarms = types, .for_probe = &make};

}  // namespace ingle
