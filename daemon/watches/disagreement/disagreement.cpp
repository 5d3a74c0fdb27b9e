// probes-disagree: two probes in one pot that read far apart, and ever further. An offset cures what is
// constant; this is a wire, a joint or a place. An event, not an alarm: which of the two is wrong is not
// known.
#include <algorithm>
#include <array>
#include <cmath>

#include "daemon/model/fields.hpp"
#include "daemon/watches/watch.hpp"
#include "daemon/watches/words.hpp"

namespace ingle {
namespace {

constexpr int minutes_kept = 30;
constexpr double apart_k = 6;  // a probe at the bottom and one at the top of a pot are closer
constexpr double grown_k = 4;  // within the time kept
constexpr int apart_for = 10;  // minutes

class Disagreement final : public ProbeWatch {
public:
    Disagreement(Settings const& settings, int other)
        : words_(settings.units),
          other_(other),
          other_name_(settings.probes[static_cast<std::size_t>(other)].name) {}

    void step(ProbeSituation const& now, WatchOutput& out) override {
        auto const& one = *now.signal;
        auto const& two = now.signals[static_cast<std::size_t>(other_)];
        if (!one.fresh || !two.fresh) {
            count_ = apart_for_ = 0;
            return;
        }
        if (++second_ % 60 != 0) return;
        double const difference = one.level - two.level;
        still_ = one.celsius == last_one_ || two.celsius == last_two_ ? still_ + 1 : 0;
        last_one_ = one.celsius;
        last_two_ = two.celsius;
        differences_[static_cast<std::size_t>(place_++ % minutes_kept)] = difference;
        count_ = std::min(count_ + 1, minutes_kept);
        apart_for_ = std::abs(difference) > apart_k ? apart_for_ + 1 : 0;
        if (apart_for_ == 0) said_ = false;
        // One that does not move at all is `probe_stuck`'s to name.
        if (said_ || apart_for_ < apart_for || still_ >= apart_for) return;
        double least = 1e9;
        for (int i = 0; i < count_; ++i)
            least = std::min(least, std::abs(differences_[static_cast<std::size_t>(i)]));
        if (std::abs(difference) - least < grown_k) return;
        said_ = true;
        out.events.push_back({now.now,
                              "probes-disagree",
                              {SubjectKind::probe, now.number},
                              now.probe->name + " reads " + words_.at(one.level) + " and " + other_name_ +
                                  " " + words_.at(two.level) +
                                  " in the same place, and they drift apart: no calibration cures that. Look "
                                  "where the tips are, "
                                  "and at + and - on both ends of the extension: two swaps cancel while "
                                  "cold, and not when the "
                                  "joint warms.",
                              {{"difference_c", difference}}});
    }

    void remember(Memory& memory, std::string const& prefix) const override {
        if (count_ > 0) remember_fields(memory, prefix + "state", *this);
    }
    void recall(Memory const& memory, std::string const& prefix) override {
        recall_fields(memory, prefix + "state", *this);
    }
    template <class Visit>
    void fields(Visit& visit) {
        visit(differences_, last_one_, last_two_, second_, apart_for_, still_, said_);
        place_ %= minutes_kept;
        visit.index(place_, minutes_kept);
        visit.index(count_, minutes_kept + 1);
    }

private:
    Words words_;
    int other_;
    std::string other_name_;
    std::array<double, minutes_kept> differences_{};
    double last_one_ = 0, last_two_ = 0;
    int second_ = 0, place_ = 0, count_ = 0, apart_for_ = 0, still_ = 0;
    bool said_ = false;
};

// For each further probe of a pot or bath, beside the first; air differs from place to place.
std::unique_ptr<ProbeWatch> make(Settings const& settings, int probe) {
    for (auto const& vessel : settings.vessels) {
        bool const liquid = holds_liquid(vessel.kind);
        bool const further = std::find(vessel.more.begin(), vessel.more.end(), probe) != vessel.more.end();
        if (liquid && further && vessel.medium >= 0)
            return std::make_unique<Disagreement>(settings, vessel.medium);
    }
    return nullptr;
}

}  // namespace

extern WatchInfo const disagreement_watch;
WatchInfo const disagreement_watch{.name = "disagreement", .alarms = {}, .for_probe = &make};

}  // namespace ingle
