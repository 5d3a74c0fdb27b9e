// probe-silent: nothing usable came from a probe for too long, whatever the reason, unless another alarm owns
// that fault. Quiet looks like fine; this is the watch that says it is not.
#include <algorithm>

#include "daemon/watches/fault_owner.hpp"
#include "daemon/watches/watch.hpp"
#include "daemon/watches/words.hpp"

namespace ingle {
namespace {

// A broken wire is its own alarm and the reason of the silence; so is what is asked of a probe that was
// moved.
constexpr std::string_view causes[] = {"probe-open", "probe-short", "probe-implausible", "probe-displaced"};
constexpr AlarmType types[] = {{.name = "probe-silent",
                                .priority = Priority::medium,
                                .suppressed_by = causes,
                                .over = "sends readings again"}};

// Readings that contradict each other for so long are no readings. An interference has its own word sooner.
constexpr Span doubted_at_most = std::chrono::minutes(15);
constexpr double most_noise_k = 8;  // sd: a loose wire, and no temperature

class ProbeSilent final : public ProbeWatch {
public:
    explicit ProbeSilent(ProbeSettings const& probe, TemperatureUnit unit)
        : limit_(std::max(from_seconds(30), from_seconds(5 * probe.every.seconds))), words_(unit) {}

    void step(ProbeSituation const& now, WatchOutput& out) override {
        auto const& signal = *now.signal;
        Finding f;
        f.type = &types[0];
        follow_silence(now);
        bool const waited = signal.silent_since && now.now - *signal.silent_since >= limit_;
        bool const ours = signal.silent_since &&
                          !(signal.fault && owner_of(signal.fault->kind) != FaultOwner::probe_silent);
        if (silent_) f.truth = Truth::unknown;
        // Told before a restart, and nothing was read since: it is still so.
        if (ours && (waited || silent_)) {
            Span const silent = now.now - *silent_since_;
            f.truth = Truth::present;
            silent_ = true;
            f.value = seconds(silent);
            // A quarter of an hour without eyes on the food is no longer a loose plug.
            if (waited && silent >= std::chrono::minutes(15)) f.priority = Priority::high;
            f.text = "no reading from " + now.probe->name + " for " + Words::in(silent);
            if (signal.fault) f.text += " (" + signal.fault->reason + ")";
            f.text += signal.age ? "; last known " + words_.at(signal.celsius) + "." : "; it has never read.";
            f.text += " Look at its plug, its cable and what reads it.";
        }
        count_doubt(now);
        if (doubted_s_ >= seconds(doubted_at_most)) {
            f.truth = Truth::present;
            f.value = doubted_s_;
            auto const length = Words::in(from_seconds(doubted_s_));
            bool const doubtful = signal.doubtful || signal.noise > most_noise_k;
            f.text = doubtful ? "no reading from " + now.probe->name + " could be relied on for " + length +
                                    ": nothing is judged by it."
                              : now.probe->name + " has jumped again and again for " + length +
                                    ": each time what it does is judged anew.";
            f.text += " Look at its wire, and where it is.";
        }
        out.findings.push_back(std::move(f));
    }

    void remember(Memory& memory, std::string const& prefix) const override {
        memory.put(prefix + "silent", std::int64_t{silent_});
        if (silent_since_) memory.put(prefix + "silent-since", *silent_since_);
        memory.put(prefix + "doubted-s", doubted_s_);
        memory.put(prefix + "upsets", std::int64_t{upsets_});
        if (upset_at_) memory.put(prefix + "upset-at", *upset_at_);
    }
    void recall(Memory const& memory, std::string const& prefix) override {
        silent_ = memory.integer(prefix + "silent").value_or(0) != 0;
        silent_since_ = memory.instant(prefix + "silent-since");
        doubted_s_ = memory.number(prefix + "doubted-s").value_or(0);
        upsets_ = static_cast<int>(memory.integer(prefix + "upsets").value_or(0));
        upset_at_ = memory.instant(prefix + "upset-at");
    }

private:
    // How long the probe was asked counts from the start of the program; how long nothing was read does not.
    void follow_silence(ProbeSituation const& now) {
        auto const& signal = *now.signal;
        if (!signal.silent_since) {
            silent_ = false;
            silent_since_.reset();
            return;
        }
        auto since = std::min(silent_since_.value_or(*signal.silent_since), *signal.silent_since);
        if (signal.age) since = std::min(since, now.now - *signal.age);
        silent_since_ = since;
    }
    // Doubtful, or it stepped, spiked or scattered within the last minute; as much time without ends it.
    void count_doubt(ProbeSituation const& now) {
        auto const& signal = *now.signal;
        int const upsets = signal.jumps + signal.spikes + signal.scattered;
        if (upsets != upsets_) upset_at_ = now.now;
        upsets_ = upsets;
        bool const upset = upset_at_ && now.now - *upset_at_ < std::chrono::minutes(1);
        bool const doubted =
            !signal.silent_since && (signal.doubtful || upset || signal.noise > most_noise_k);
        doubted_s_ = std::clamp(doubted_s_ + (doubted ? 1 : -1), 0.0, 2 * seconds(doubted_at_most));
    }

    Span limit_;
    Words words_;
    bool silent_ = false;
    std::optional<Instant> silent_since_;
    double doubted_s_ = 0;
    int upsets_ = 0;
    std::optional<Instant> upset_at_;
};

std::unique_ptr<ProbeWatch> make(Settings const& settings, int probe) {
    return std::make_unique<ProbeSilent>(settings.probes[static_cast<std::size_t>(probe)], settings.units);
}

}  // namespace

extern WatchInfo const probe_silent_watch;
WatchInfo const probe_silent_watch{.name = "probe_silent", .alarms = types, .for_probe = &make};

}  // namespace ingle
