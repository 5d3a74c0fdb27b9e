// probe-open, probe-short, probe-implausible: the probe answers, and says that its wire is broken, shorted,
// or a temperature that its job cannot have. A single fault is a gap in the record, not an alarm.
#include <algorithm>

#include "daemon/watches/fault_owner.hpp"
#include "daemon/watches/watch.hpp"
#include "daemon/watches/words.hpp"

namespace ingle {
namespace {

constexpr std::string_view reversed[] = {"probe-reversed"};
constexpr AlarmType types[] = {
    {.name = "probe-open", .priority = Priority::medium, .over = "no longer reads as broken"},
    {.name = "probe-short", .priority = Priority::medium, .over = "no longer reads as shorted"},
    {.name = "probe-implausible",
     .priority = Priority::medium,
     .suppressed_by = reversed,
     .over = "no longer reads what cannot be"}};
constexpr int none = -1;

int alarm_of(FaultKind kind) {
    auto const owner = owner_of(kind);
    return owner == FaultOwner::probe_silent ? none : static_cast<int>(owner);
}

constexpr std::string_view advice[] = {"Look at its plug and its wire.",
                                       "Look for damp, a pinched cable, or a tip that touches bare metal.",
                                       "Look whether it is where it should be, and at its wire."};

class ProbeFault final : public ProbeWatch {
public:
    ProbeFault(ProbeSettings const& probe, TemperatureUnit unit)
        // 30 s of nothing but faults, and at least two of them from a slow probe.
        : limit_(std::max(from_seconds(30), from_seconds(1.5 * probe.every.seconds))), words_(unit) {}

    void step(ProbeSituation const& now, WatchOutput& out) override {
        auto const& signal = *now.signal;
        if (!signal.silent_since) {
            told_ = none;
            first_ = none;
        } else if (signal.fault) {
            int const alarm = alarm_of(signal.fault->kind);
            if (first_ == none) first_ = alarm;
            // A wire that flickers between two faults is one trouble: the first name stays.
            if (told_ == none && alarm != none && now.now - *signal.silent_since >= limit_) told_ = first_;
        }
        for (int i = 0; i < 3; ++i) {
            Finding f;
            f.type = &types[i];
            if (i == told_) {
                f.truth = Truth::present;
                f.value = seconds(now.now - *signal.silent_since);
                if (signal.fault) reason_ = signal.fault->reason;
                f.text = now.probe->name + " has given no temperature for " +
                         Words::in(now.now - *signal.silent_since) + ": " + reason_ + ". " +
                         std::string(advice[i]);
                if (signal.age) f.text += " Last known " + words_.at(signal.celsius) + ".";
            }
            out.findings.push_back(std::move(f));
        }
    }

    // Before a restart: the fault is not over because nothing was read yet.
    void remember(Memory& memory, std::string const& prefix) const override {
        if (first_ == none) return;
        memory.put(prefix + "first", std::int64_t{first_});
        memory.put(prefix + "told", std::int64_t{told_});
        memory.put(prefix + "reason", reason_);
    }
    void recall(Memory const& memory, std::string const& prefix) override {
        auto const one = [&](char const* key) {
            auto const n = memory.integer(prefix + key).value_or(none);
            return n >= 0 && n < 3 ? static_cast<int>(n) : none;
        };
        first_ = one("first");
        told_ = one("told");
        reason_ = memory.text(prefix + "reason").value_or("");
    }

private:
    Span limit_;
    Words words_;
    int first_ = none, told_ = none;
    std::string reason_;
};

std::unique_ptr<ProbeWatch> make(Settings const& settings, int probe) {
    return std::make_unique<ProbeFault>(settings.probes[static_cast<std::size_t>(probe)], settings.units);
}

}  // namespace

extern WatchInfo const probe_fault_watch;
WatchInfo const probe_fault_watch{.name = "probe_fault", .alarms = types, .for_probe = &make};

}  // namespace ingle
