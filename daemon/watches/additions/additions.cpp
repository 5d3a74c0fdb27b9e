// topped-up: cold liquid went into a pot. It falls within seconds and comes back in minutes; that is work in
// the kitchen, not an alarm, and the band is silent meanwhile, for a bounded time and only while it comes
// back.
#include <algorithm>

#include "daemon/conditioning/followed.hpp"
#include "daemon/watches/watch.hpp"
#include "daemon/watches/words.hpp"

namespace ingle {
namespace {

constexpr int within_s = 30;
constexpr double least_drop_k = 2.0, least_share = 0.025;
constexpr double most_drop_k = 28;  // more than this in seconds is a probe out of the pot
constexpr Span silence_most = std::chrono::minutes(12), patience = std::chrono::minutes(3);
constexpr Span settled_after = std::chrono::seconds(40);

class Additions final : public VesselWatch {
public:
    explicit Additions(TemperatureUnit unit) : words_(unit) {}

    void step(VesselSituation const& now, WatchOutput& out) override {
        bool const fresh = now.medium && now.medium->fresh;
        past_.put(fresh ? std::optional(now.medium->celsius) : std::nullopt);
        if (!fresh) return;
        followed_.take(*now.medium);
        auto const value = past_.mean(2, 0);
        if (!value) return;
        double const room = now.room_c.value_or(20);
        if (!fell_) {
            auto const then = past_.mean(within_s + 6, within_s);
            if (!then || *then - *value < std::max(least_drop_k, least_share * (*then - room))) return;
            fell_ = now.now;
            before_ = past_.mean(60, within_s).value_or(*then);
            bottom_ = *value;
            told_ = false;
            return;
        }
        bottom_ = std::min(bottom_, *value);
        Span const since = now.now - *fell_;
        double const depth = before_ - bottom_;
        if (!told_ && since >= settled_after) {
            told_ = true;
            // It fell and stopped: cold liquid. What falls on is no addition.
            bool const stopped = followed_.slope() > -0.04;
            if (!stopped || depth > most_drop_k) {
                fell_.reset();
                return;
            }
            Event event{now.now, "topped-up", {SubjectKind::vessel, now.number}, "", {{"depth_c", depth}}};
            event.text = now.vessel->name + " was topped up with something cold: it fell by " +
                         words_.by(depth) + " to " + words_.at(bottom_) + ".";
            out.events.push_back(std::move(event));
        }
        bool const back = *value > bottom_ + 0.9 * depth && since > settled_after;
        bool const coming = since < patience || followed_.slope() > 0.1 / 60;
        if (back || !coming || since > silence_most || depth > most_drop_k) {
            if (told_) fell_.reset();
        } else {
            out.silence_band = true;
        }
    }

private:
    Words words_;
    Past<64> past_;
    Followed followed_{1e-7};
    std::optional<Instant> fell_;
    double before_ = 0, bottom_ = 0;
    bool told_ = false;
};

std::unique_ptr<VesselWatch> make(Settings const& settings, int number) {
    auto const& vessel = settings.vessels[static_cast<std::size_t>(number)];
    bool const liquid = vessel.kind == VesselKind::pot || vessel.kind == VesselKind::bath;
    if (!liquid || vessel.medium < 0) return nullptr;
    return std::make_unique<Additions>(settings.units);
}

}  // namespace

extern WatchInfo const additions_watch;
WatchInfo const additions_watch{.name = "additions", .alarms = {}, .for_vessel = &make};

}  // namespace ingle
