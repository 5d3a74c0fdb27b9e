// probe-stuck: the number keeps coming and never changes. Told where another probe in the same medium moves,
// or where this probe's own trembling has stopped; a boiling plateau trembles and a quiet fridge always did
// little.
#include <algorithm>
#include <cmath>
#include <vector>

#include "daemon/model/fields.hpp"
#include "daemon/watches/watch.hpp"
#include "daemon/watches/words.hpp"

namespace ingle {
namespace {

constexpr AlarmType types[] = {{.name = "probe-stuck",
                                .priority = Priority::medium,
                                .off_delay = std::chrono::minutes(1),
                                .over = "no longer stands still"}};

constexpr std::size_t most_companions = 64;
constexpr double companion_moved_k = 5;
constexpr Span with_companion = std::chrono::minutes(10), alone = std::chrono::hours(1);
constexpr int known_after = 100;    // changes seen before its usual pace counts as known
constexpr double far_slower = 300;  // times its usual time between two changes

class ProbeStuck final : public ProbeWatch {
public:
    explicit ProbeStuck(TemperatureUnit unit) : words_(unit) {}

    void step(ProbeSituation const& now, WatchOutput& out) override {
        auto const& signal = *now.signal;
        Finding finding;
        finding.type = &types[0];
        if (signal.fresh) {
            if (!since_ || std::abs(signal.celsius - value_) > 1e-9) changed(now);
            finding.truth = judge(now, finding);
        } else {
            since_.reset();
            finding.truth = Truth::unknown;
        }
        out.findings.push_back(std::move(finding));
    }

    void remember(Memory& memory, std::string const& prefix) const override {
        if (!since_) return;
        remember_fields(memory, prefix + "state", *this);
        for (std::size_t i = 0; i < others_.size(); ++i)
            if (others_[i]) memory.put(prefix + "other." + std::to_string(i), *others_[i]);
    }
    void recall(Memory const& memory, std::string const& prefix) override {
        recall_fields(memory, prefix + "state", *this);
        for (std::size_t i = 0; i < most_companions; ++i) {
            auto const other = memory.number(prefix + "other." + std::to_string(i));
            if (!other) continue;
            others_.resize(i + 1);
            others_[i] = other;
        }
    }
    template <class Visit>
    void fields(Visit& visit) {
        visit(since_, value_, usual_s_, changes_);
    }

private:
    void changed(ProbeSituation const& now) {
        if (since_) {
            double const took = seconds(now.now - *since_);
            // The slower of its paces: fast while it heats says nothing of how quiet it may be.
            usual_s_ = changes_ == 0 ? took : usual_s_ + (took > usual_s_ ? 0.2 : 0.01) * (took - usual_s_);
            ++changes_;
        }
        since_ = now.now;
        value_ = now.signal->celsius;
        others_.clear();
        for (int const p : *now.companions) {
            auto const& other = now.signals[static_cast<std::size_t>(p)];
            others_.push_back(other.fresh ? std::optional(other.celsius) : std::nullopt);
        }
    }

    Truth judge(ProbeSituation const& now, Finding& finding) const {
        Span const still = now.now - *since_;
        finding.value = value_;
        std::string const what =
            now.probe->name + " has read exactly " + words_.at(value_) + " for " + Words::in(still);
        for (std::size_t i = 0; i < std::min(others_.size(), now.companions->size()); ++i) {
            auto const& other = now.signals[static_cast<std::size_t>((*now.companions)[i])];
            if (!others_[i] || !other.fresh || still < with_companion) continue;
            if (std::abs(other.celsius - *others_[i]) < companion_moved_k) continue;
            finding.text = what + " while another probe in the same place went from " +
                           words_.at(*others_[i]) + " to " + words_.at(other.celsius) + ". Do not trust it.";
            return Truth::present;
        }
        if (still >= alone && changes_ >= known_after && seconds(still) > far_slower * usual_s_) {
            finding.priority = Priority::low;
            finding.text = what + ", and before it changed every " +
                           Words::in(from_seconds(std::max(1.0, usual_s_))) +
                           " or so. Look whether it still measures.";
            return Truth::present;
        }
        return Truth::absent;
    }

    Words words_;
    std::optional<Instant> since_;
    double value_ = 0, usual_s_ = 0;
    int changes_ = 0;
    std::vector<std::optional<double>> others_;
};

std::unique_ptr<ProbeWatch> make(Settings const& settings, int) {
    return std::make_unique<ProbeStuck>(settings.units);
}

}  // namespace

extern WatchInfo const probe_stuck_watch;
WatchInfo const probe_stuck_watch{.name = "probe_stuck", .alarms = types, .for_probe = &make};

}  // namespace ingle
