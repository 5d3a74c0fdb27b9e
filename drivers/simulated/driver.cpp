// Probes in the demonstration kitchen of scene.hpp. The k-th reading of a probe is due k periods after the
// start and shows the scene at that moment times `speed`; being served late changes neither stamp nor value.
#include <algorithm>
#include <memory>
#include <stdexcept>

#include "drivers/api/driver.hpp"
#include "drivers/simulated/scene.hpp"

namespace ingle {
namespace {

using namespace simulated;

constexpr std::string_view stories[] = {"supper", "steady"};
constexpr OptionInfo options[] = {
    {"of", OptionKind::text, true, "", thing_names, 0, 0, "the thing of the scene that the probe is in"},
    {"speed", OptionKind::number, false, "1", {}, 0.01, 3600, "seconds of the scene in a second"},
    {"seed", OptionKind::integer, false, "1", {}, 0, 1e9, "another seed, another noise of the probes"},
    {"story", OptionKind::text, false, "supper", stories, 0, 0,
     "what happens: supper, or steady for nothing"},
};
constexpr std::string_view shared[] = {"speed", "seed", "story"};

constexpr Span forgotten_after{10'000};  // later than this after a suspend, readings are left out: a gap
constexpr Span shortest_period{10};

class Simulated final : public Driver {
public:
    Simulated(DriverContext context, std::vector<ProbeWiring> const& probes)
        : context_(std::move(context)),
          timer_(context_.io),
          speed_(probes.at(0).options.number("speed", 1)),
          seed_(static_cast<std::uint64_t>(probes.at(0).options.integer("seed", 1))),
          scene_(story_from(probes.at(0).options.text("story", "supper")).value_or(Story::supper)) {
        for (auto const& wiring : probes) {
            auto const of = wiring.options.text("of");
            auto const thing = thing_from(of);
            if (!thing) throw std::runtime_error("there is no \"" + of + "\" in the simulated kitchen");
            probes_.push_back({wiring.number, std::max(wiring.every, shortest_period), *thing, 0});
        }
    }

    void start() override {
        if (stopping_ || started_) return;
        started_ = BootClock::now();
        run();
    }

    void stop() override {
        stopping_ = true;
        timer_.cancel();
    }

private:
    struct Probe {
        int number;
        Span every;
        Thing thing;
        std::int64_t sample;  // the next one
    };

    Instant due(Probe const& probe) const { return *started_ + probe.every * probe.sample; }

    // The scene only moves on, so the probes take their turns in the order of time.
    Probe& next() {
        return *std::ranges::min_element(probes_, {}, [this](Probe const& probe) { return due(probe); });
    }

    void run() {
        auto const now = BootClock::now();
        for (auto& probe : probes_)
            if (now - due(probe) > forgotten_after) probe.sample = (now - *started_) / probe.every;
        while (!stopping_ && due(next()) <= now) say(next());
        if (stopping_) return;
        timer_.expires_after(due(next()) - now);
        timer_.async_wait([self = shared_from_this(), this](boost::system::error_code error) {
            if (!error && !stopping_) run();
        });
    }

    void say(Probe& probe) {
        auto const at = due(probe);
        scene_.advance_to(seconds(at - *started_) * speed_);
        auto const sample = static_cast<std::uint64_t>(probe.sample++);
        context_.sink.on_reading(
            probe.number, Reading::good(at, shown(scene_.felt(probe.thing), seed_, probe.thing, sample)));
    }

    DriverContext context_;
    boost::asio::steady_timer timer_;
    double speed_;
    std::uint64_t seed_;
    Scene scene_;
    std::vector<Probe> probes_;
    std::optional<Instant> started_;
    bool stopping_ = false;
};

std::shared_ptr<Driver> make(DriverContext context, std::vector<ProbeWiring> probes) {
    return std::make_shared<Simulated>(std::move(context), probes);
}

}  // namespace

extern DriverInfo const simulated_driver;
DriverInfo const simulated_driver{
    "simulated", "a physical kitchen in the computer, for a first look and for tests", options, shared, make};

}  // namespace ingle
