// Signals that no kitchen makes: whatever comes, nothing is told beyond what was read.
#include <algorithm>
#include <cmath>
#include <numbers>

#include "daemon/kitchen/kitchen.hpp"
#include "tests/scenarios/honest.hpp"
#include "tests/scenarios/judge.hpp"

namespace ingle::scenarios {
namespace {

// Pieces of holds, ramps, approaches, swings and walks, with steps between them, and faults and gaps in them.
class Signal {
public:
    Signal(Chance& chance, double low, double high, double every_s)
        : chance_(chance), low_(low), high_(high), every_(every_s), value_(chance.uniform(low, high)) {
        noise_ = chance.happens(0.2) ? 0 : std::pow(10, chance.uniform(-2, 0.2));
        constexpr double steps[] = {0, 0.1, 0.25, 0.5, 1.0};
        step_ = steps[static_cast<int>(chance.uniform(0, 5))];
        lossy_ = chance.happens(0.2) ? chance.uniform(0, 0.3) : 0;
        spiky_ = chance.happens(0.2) ? chance.uniform(0, 0.05) : 0;
        begin();
    }
    std::optional<Reading> at(int s) {
        if (left_-- <= 0) begin();
        move();
        value_ = std::clamp(value_, low_, high_);
        if (silent_ > 0) return --silent_, std::nullopt;
        if (chance_.happens(lossy_))
            return Reading::faulty(second(s), FaultKind::garbled, "garbled: a random signal");
        double shown = value_ + noise_ * chance_.normal();
        if (chance_.happens(spiky_)) shown += chance_.uniform(-40, 40);
        if (step_ > 0) shown = std::round(shown / step_) * step_;
        return Reading::good(second(s), shown);
    }

private:
    void begin() {
        left_ = static_cast<int>(std::pow(10, chance_.uniform(0.7, 2.5)));
        manner_ = static_cast<int>(chance_.uniform(0, 6));
        rate_ = chance_.normal() * std::pow(10, chance_.uniform(-3, 0));
        tau_ = chance_.uniform(2, 100);
        target_ = chance_.uniform(low_, high_);
        if (chance_.happens(0.3)) value_ += 15 * chance_.normal();
        if (chance_.happens(0.1)) silent_ = static_cast<int>(chance_.uniform(1, 60));
    }
    void move() {
        double const dt = every_;
        if (manner_ == 1) value_ += rate_ * dt;
        if (manner_ == 2 || manner_ == 3) value_ += (target_ - value_) * -std::expm1(-dt / tau_);
        if (manner_ == 4)
            value_ += rate_ * 10 * std::cos(2 * std::numbers::pi * left_ * dt / (4 * tau_)) * dt;
        if (manner_ == 5) value_ += 0.3 * std::sqrt(dt) * chance_.normal();
    }

    Chance& chance_;
    double low_, high_, every_, value_, noise_ = 0, step_ = 0, lossy_ = 0, spiky_ = 0;
    double rate_ = 0, tau_ = 1, target_ = 0;
    int manner_ = 0, left_ = 0, silent_ = 0;
};

}  // namespace

RandomRun run_random(std::uint64_t seed) {
    Chance chance(seed * 982451653 + 1);
    constexpr VesselKind vessels[] = {VesselKind::pot,    VesselKind::pot,  VesselKind::bath,
                                      VesselKind::smoker, VesselKind::oven, VesselKind::fridge};
    constexpr int cadences[] = {1, 1, 1, 1, 2, 5, 10, 30, 60, 900};
    auto const kind = vessels[static_cast<int>(chance.uniform(0, 6))];
    int every = cadences[static_cast<int>(chance.uniform(0, 10))];
    // Six hours of a reading in 15 min cost as much as 24 of the others: 3 signals in 100 are enough.
    if (every == 900 && chance.happens(0.7)) every = 60;
    bool const cold = kind == VesselKind::fridge,
               dry = kind == VesselKind::smoker || kind == VesselKind::oven;
    double const low = cold ? -10 : 10, high = cold ? 30 : dry ? 230 : 105;
    double const band = chance.uniform(low + 2, high - 12);
    auto settings = one_vessel(kind, std::pair{band, band + chance.uniform(2, 10)});
    settings.probes[0].every.seconds = chance.happens(0.8) ? every : 1;  // or the file says something else
    Signal signal(chance, low, high, every);
    Kitchen kitchen(settings, second(0));
    Honest honest(settings);
    Effects effects;
    int const length = every < 60 ? 900 : 24 * every;
    for (int s = 0; s < length; ++s) {
        // A second is judged before its reading comes; what is shown after it must bear the reading.
        kitchen.advance(second(s), effects);
        honest.effects(s, effects);
        effects.clear();
        if (s % every == 0)
            if (auto const reading = signal.at(s)) {
                if (reading->ok()) honest.read(0, s, reading->celsius());
                kitchen.take(0, *reading, effects);
            }
        honest.effects(s, effects);
        effects.clear();
        if (s % std::max(5, every / 4) == 0) honest.view(s, kitchen.view());
    }
    return {honest.statements(), honest.lies()};
}

}  // namespace ingle::scenarios
