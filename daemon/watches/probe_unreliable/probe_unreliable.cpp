// probe-unreliable: it reads, but loses too many readings between good ones. Each single loss is a gap in the
// record; that they are many is worth a word before the last one.
#include <algorithm>
#include <array>
#include <cmath>

#include "daemon/model/fields.hpp"
#include "daemon/watches/watch.hpp"
#include "daemon/watches/words.hpp"

namespace ingle {
namespace {

constexpr std::string_view causes[] = {"probe-open", "probe-short", "probe-silent", "probe-implausible"};
constexpr AlarmType types[] = {{.name = "probe-unreliable",
                                .priority = Priority::low,
                                .on_delay = std::chrono::seconds(30),
                                .off_delay = std::chrono::minutes(5),
                                .suppressed_by = causes,
                                .over = "no longer drops so many readings"}};

constexpr double raise_at = 0.2, clear_below = 0.05, mostly_lost = 0.6;
constexpr int fewest = 6;  // separate losses in the span: one long loss is another alarm's
constexpr Span span = std::chrono::minutes(5);

class ProbeUnreliable final : public ProbeWatch {
public:
    explicit ProbeUnreliable(TemperatureUnit unit) : words_(unit) {}

    void step(ProbeSituation const& now, WatchOutput& out) override {
        auto const& signal = *now.signal;
        bool const lost = signal.fault.has_value();
        if (lost && !lost_) {
            losses_[next_++ % losses_.size()] = now.now;
            reason_ = signal.fault->reason;
            if (signal.age) lowest_ = std::min(signal.celsius, lowest_.value_or(signal.celsius));
        }
        lost_ = lost;
        auto const many = next_ >= losses_.size() && now.now - losses_[next_ % losses_.size()] < span;
        if (!bad_ && signal.fault_rate > raise_at && many) bad_ = true;
        if (signal.fault_rate < clear_below) {
            bad_ = false;
            lowest_.reset();
        }
        Finding finding;
        finding.type = &types[0];
        if (bad_) {
            finding.truth = Truth::present;
            finding.value = signal.fault_rate;
            if (signal.fault_rate > mostly_lost) finding.priority = Priority::medium;
            finding.text = now.probe->name + " loses " +
                           std::to_string(std::lround(signal.fault_rate * 100)) + " of 100 readings (" +
                           reason_ + ")";
            if (lowest_) finding.text += ", since it read " + words_.at(*lowest_);
            finding.text += ". Its other readings are used. Look at its plug and its wire.";
        }
        out.findings.push_back(std::move(finding));
    }

    void remember(Memory& memory, std::string const& prefix) const override {
        if (next_ == 0) return;
        remember_fields(memory, prefix + "state", *this);
        memory.put(prefix + "reason", reason_);
    }
    void recall(Memory const& memory, std::string const& prefix) override {
        if (recall_fields(memory, prefix + "state", *this))
            reason_ = memory.text(prefix + "reason").value_or("");
    }
    template <class Visit>
    void fields(Visit& visit) {
        visit(losses_, next_, lost_, bad_, lowest_);
    }

private:
    Words words_;
    std::array<Instant, fewest> losses_{};
    std::size_t next_ = 0;
    bool lost_ = false, bad_ = false;
    std::optional<double> lowest_;
    std::string reason_;
};

std::unique_ptr<ProbeWatch> make(Settings const& settings, int) {
    return std::make_unique<ProbeUnreliable>(settings.units);
}

}  // namespace

extern WatchInfo const probe_unreliable_watch;
WatchInfo const probe_unreliable_watch{.name = "probe_unreliable", .alarms = types, .for_probe = &make};

}  // namespace ingle
