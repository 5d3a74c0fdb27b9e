// interference: a probe that becomes noisy as another one arrives (two grounded tips on the same metal), and
// single wild readings that come at a rhythm (a compressor, a relay). Events and doubt, never an alarm.
#include <algorithm>
#include <array>
#include <cmath>
#include <vector>

#include "daemon/model/fields.hpp"
#include "daemon/watches/watch.hpp"
#include "daemon/watches/words.hpp"

namespace ingle {
namespace {

constexpr int troubles = 3;  // this many losses, spikes or bursts within the span: noisy
constexpr Span noisy_within = std::chrono::seconds(60), quiet_after = std::chrono::minutes(2);
constexpr Span together = std::chrono::seconds(90);  // the other one changed so long before, or after
constexpr int rhythm_of = 8;                         // spikes that make a rhythm
constexpr double even = 0.15;                        // spread of their distances, as part of the distance
constexpr int many = 20;                             // spikes within two hours, at whatever distance
constexpr Span many_within = std::chrono::hours(2), said_every = std::chrono::hours(24);
constexpr Span least_distance = std::chrono::seconds(30);  // closer ones are noise of another kind
constexpr Span others_seen_after =
    std::chrono::seconds(35);  // a slow probe needs a sample more to refuse one

class Interference final : public ProbeWatch {
public:
    void step(ProbeSituation const& now, WatchOutput& out) override {
        find_other(now);
        arrival(now, out);
        rhythm(now, out);
    }

    void remember(Memory& memory, std::string const& prefix) const override {
        if (next_ == 0 && place_ == 0 && !there_since_) return;
        remember_fields(memory, prefix + "state", *this);
        if (other_) memory.put(prefix + "other", other_name_);
    }
    void recall(Memory const& memory, std::string const& prefix) override {
        if (recall_fields(memory, prefix + "state", *this))
            other_name_ = memory.text(prefix + "other").value_or("");
    }
    template <class Visit>
    void fields(Visit& visit) {
        visit(recent_, next_, lost_, troubles_, there_since_, newest_, noisy_since_, spikes_at_, spikes_,
              look_at_, said_);
        place_ %= many;
        visit.index(place_, many);
        visit.index(count_, many + 1);
    }

private:
    // Probes go by name: the kitchen file may have changed.
    void find_other(ProbeSituation const& now) {
        if (other_ || other_name_.empty()) return;
        for (std::size_t p = 0; p < now.probes.size(); ++p)
            if (now.probes[p].name == other_name_) other_ = static_cast<int>(p);
        if (!other_) other_name_.clear();
    }

    // Field case A10.
    void arrival(ProbeSituation const& now, WatchOutput& out) {
        auto const& signal = *now.signal;
        if (!there_since_ && signal.fresh) there_since_ = now.now;
        bool const lost = signal.fault.has_value();
        int const troubles_now = signal.spikes + signal.scattered;
        if ((lost && !lost_) || troubles_now != troubles_) {
            recent_[next_++ % recent_.size()] = now.now;
            newest_ = now.now;
            if (!noisy_since_ && next_ >= recent_.size() &&
                now.now - recent_[next_ % recent_.size()] <= noisy_within) {
                noisy_since_ = recent_[next_ % recent_.size()];
            }
        }
        lost_ = lost;
        troubles_ = troubles_now;
        if (!noisy_since_) return;
        if (now.now - *newest_ > quiet_after) {
            if (other_) {
                out.events.push_back({now.now,
                                      "interference-ended",
                                      {SubjectKind::probe, now.number},
                                      now.probe->name + " reads quietly again.",
                                      {{"length_s", seconds(*newest_ - *noisy_since_)}}});
            }
            noisy_since_.reset();
            other_.reset();
            other_name_.clear();
            next_ = 0;
            return;
        }
        if (!other_ && now.now - *noisy_since_ <= 2 * together) look_for_other(now, out);
        if (other_) {
            out.doubted.push_back(now.number);
            out.doubted.push_back(*other_);
        }
    }

    void look_for_other(ProbeSituation const& now, WatchOutput& out) {
        for (auto const& other : now.signals) {
            if (other.probe == now.number || !other.changed_at) continue;
            Span const apart = *other.changed_at - *noisy_since_;
            if (apart > together || apart < -together) continue;
            // Itself it must have been there before: at the beginning everything arrives.
            if (!there_since_ || *noisy_since_ - *there_since_ < together) continue;
            other_ = other.probe;
            other_name_ = now.probes[static_cast<std::size_t>(other.probe)].name;
            Event event{now.now, "interference", {SubjectKind::probe, now.number}, "", {}};
            event.text =
                now.probe->name + " became noisy when " +
                now.probes[static_cast<std::size_t>(other.probe)].name +
                " changed: their tips may be touching the same metal. Until it is quiet again both are "
                "doubtful.";
            event.numbers = {{"other_probe", static_cast<double>(other.probe)}};
            out.events.push_back(std::move(event));
            return;
        }
    }

    // Field case A11.
    void rhythm(ProbeSituation const& now, WatchOutput& out) {
        auto const& signal = *now.signal;
        if (signal.spikes != spikes_) {
            spikes_ = signal.spikes;
            if (count_ > 0 && signal.spike_at - spike(0) < least_distance) {
                count_ = 0;
                at_once_.clear();
            }
            spikes_at_[static_cast<std::size_t>(place_++ % many)] = signal.spike_at;
            count_ = std::min(count_ + 1, many);
            look_at_ = now.now + others_seen_after;
        }
        if (!look_at_ || now.now < *look_at_) return;
        look_at_.reset();
        at_once_.resize(now.signals.size(), 0);
        for (auto const& other : now.signals) {
            bool const same =
                other.spikes > 0 && other.probe != now.number &&
                std::abs(seconds(other.spike_at - spike(0))) <= 1.5 * now.probe->every.seconds + 1;
            if (same) ++at_once_[static_cast<std::size_t>(other.probe)];
        }
        if (said_ && now.now - *said_ < said_every) return;
        auto const period = period_s();
        bool const often = count_ >= many && spike(0) - spike(many - 1) <= many_within;
        if (!period && !often) return;
        said_ = now.now;
        std::string others;
        for (std::size_t p = 0; p < at_once_.size(); ++p) {
            if (2 * at_once_[p] < count_) continue;
            if (static_cast<int>(p) < now.number) return;  // that one says it for both
            others += " and " + now.probes[p].name;
        }
        Event event{now.now, "periodic-interference", {SubjectKind::probe, now.number}, "", {}};
        event.text =
            now.probe->name + others + (others.empty() ? " gets" : " get at once") +
            " single wild readings, " +
            (period ? "one about every " + Words::in(from_seconds(*period))
                    : std::to_string(count_) + " within " + Words::in(spike(0) - spike(count_ - 1))) +
            ": perhaps something that switches nearby, as a compressor or a relay. They are refused.";
        event.numbers = {{"period_s", period.value_or(0)}, {"count", static_cast<double>(count_)}};
        out.events.push_back(std::move(event));
    }

    Instant spike(int ago) const {
        return spikes_at_[static_cast<std::size_t>((place_ - 1 - ago + 2 * many) % many)];
    }
    std::optional<double> period_s() const {
        if (count_ < rhythm_of) return std::nullopt;
        std::array<double, rhythm_of - 1> apart{};
        for (int i = 0; i + 1 < rhythm_of; ++i)
            apart[static_cast<std::size_t>(i)] = seconds(spike(i) - spike(i + 1));
        auto sorted = apart;
        std::sort(sorted.begin(), sorted.end());
        double const middle = sorted[sorted.size() / 2];
        for (double const d : apart)
            if (std::abs(d - middle) > even * middle) return std::nullopt;
        return middle;
    }

    std::array<Instant, troubles> recent_{};
    std::size_t next_ = 0;
    bool lost_ = false;
    int troubles_ = 0;
    std::optional<Instant> there_since_, newest_, noisy_since_;
    std::optional<int> other_;
    std::string other_name_;

    std::array<Instant, many> spikes_at_{};
    int spikes_ = 0, place_ = 0, count_ = 0;
    std::vector<int> at_once_;  // by probe: how often it was hit at the same time
    std::optional<Instant> look_at_, said_;
};

std::unique_ptr<ProbeWatch> make(Settings const&, int) {
    return std::make_unique<Interference>();
}

}  // namespace

extern WatchInfo const interference_watch;
WatchInfo const interference_watch{.name = "interference", .alarms = {}, .for_probe = &make};

}  // namespace ingle
