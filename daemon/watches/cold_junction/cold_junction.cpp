// The cold junction of a thermocouple: an event where its board gets hot or warms fast, and a hint where a
// reading climbs as the board does, which is what copper instead of extension wire makes. Never an alarm.
#include <array>
#include <cmath>

#include "daemon/model/fields.hpp"
#include "daemon/watches/watch.hpp"
#include "daemon/watches/words.hpp"

namespace ingle {
namespace {

constexpr double hot_c = 60, cool_again_c = 55;
constexpr double fast = 0.5 / 60;  // K/s
constexpr int fast_for_s = 180;
constexpr Span said_every = std::chrono::hours(2);
constexpr int minutes_kept = 45;
constexpr double least_rise_k = 8;              // of the board within that time, to compare by
constexpr double alike = 0.2, scatter_k = 0.6;  // how parallel the two must be

class ColdJunction final : public ProbeWatch {
public:
    explicit ColdJunction(TemperatureUnit unit) : words_(unit) {}

    void step(ProbeSituation const& now, WatchOutput& out) override {
        auto const& signal = *now.signal;
        if (!signal.fresh || !signal.cold_junction) return;
        double const board = *signal.cold_junction;
        if (board > hot_c && !hot_) {
            hot_ = true;
            tell(now, out,
                 "is at " + words_.at(board) + ": it was made for a cooler place. Move it from the heat.");
        }
        if (board < cool_again_c) hot_ = false;
        bool const warms = signal.cold_junction_slope.value_or(0) > fast;
        fast_s_ = warms ? fast_s_ + 1 : 0;
        if (fast_s_ == fast_for_s && (!said_ || now.now - *said_ > said_every)) {
            said_ = now.now;
            tell(now, out,
                 "warms by " + words_.by(*signal.cold_junction_slope * 60) +
                     "/min: readings lag behind while it does.");
        }
        if (++second_ % 60 == 0 && !hinted_) compare(now, out);
    }

    void remember(Memory& memory, std::string const& prefix) const override {
        if (minute_ > 0) remember_fields(memory, prefix + "state", *this);
    }
    void recall(Memory const& memory, std::string const& prefix) override {
        recall_fields(memory, prefix + "state", *this);
    }
    template <class Visit>
    void fields(Visit& visit) {
        visit(hot_, hinted_, fast_s_, second_, minute_, said_, boards_, readings_);
        minute_ = std::max(minute_, 0);
    }

private:
    void tell(ProbeSituation const& now, WatchOutput& out, std::string const& what) const {
        out.events.push_back({now.now,
                              "cold-junction-warm",
                              {SubjectKind::probe, now.number},
                              "the connector of " + now.probe->name + " " + what,
                              {{"celsius", *now.signal->cold_junction}}});
    }

    // Once a minute: does the reading follow the board, kelvin by kelvin?
    void compare(ProbeSituation const& now, WatchOutput& out) {
        auto const place = static_cast<std::size_t>(minute_++ % minutes_kept);
        boards_[place] = *now.signal->cold_junction;
        readings_[place] = now.signal->level;
        if (minute_ < minutes_kept) return;
        auto const oldest = static_cast<std::size_t>(minute_ % minutes_kept);
        if (boards_[place] - boards_[oldest] < least_rise_k) return;
        double n = 0, x = 0, y = 0, xx = 0, xy = 0, yy = 0;
        for (std::size_t i = 0; i < minutes_kept; ++i) {
            double const dx = boards_[i] - boards_[oldest], dy = readings_[i] - readings_[oldest];
            n += 1, x += dx, y += dy, xx += dx * dx, xy += dx * dy, yy += dy * dy;
        }
        double const sxx = xx - x * x / n, sxy = xy - x * y / n, syy = yy - y * y / n;
        double const gain = sxy / sxx;
        double const scatter = std::sqrt(std::max(0.0, (syy - gain * sxy) / (n - 2)));
        if (std::abs(gain - 1) > alike || scatter > scatter_k) return;
        hinted_ = true;
        double const rise = boards_[place] - boards_[oldest];
        out.events.push_back(
            {now.now,
             "note",
             {SubjectKind::probe, now.number},
             now.probe->name + " has risen by " + words_.by(readings_[place] - readings_[oldest]) +
                 " as its connector did by " + words_.by(rise) +
                 ": perhaps it is not the food. The joint may be warm, or its extension wire the wrong one.",
             {{"gain", gain}}});
    }

    Words words_;
    bool hot_ = false, hinted_ = false;
    int fast_s_ = 0, second_ = 0, minute_ = 0;
    std::optional<Instant> said_;
    std::array<double, minutes_kept> boards_{}, readings_{};
};

std::unique_ptr<ProbeWatch> make(Settings const& settings, int) {
    return std::make_unique<ColdJunction>(settings.units);
}

}  // namespace

extern WatchInfo const cold_junction_watch;
WatchInfo const cold_junction_watch{.name = "cold_junction", .alarms = {}, .for_probe = &make};

}  // namespace ingle
