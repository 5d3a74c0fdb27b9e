// Drives a Kitchen with series of temperatures as a kitchen would, and tells what came of it. For tests.
#pragma once

#include <cmath>
#include <cstdint>
#include <functional>
#include <initializer_list>
#include <memory>
#include <optional>
#include <stdexcept>
#include <string>
#include <string_view>
#include <utility>
#include <vector>

#include "daemon/kitchen/kitchen.hpp"
#include "daemon/replay/lines.hpp"

namespace ingle::test {

// Small, seeded, and the same everywhere (std::normal_distribution is not).
class Dice {
public:
    explicit Dice(std::uint64_t seed) : state_(seed * 2862933555777941757ULL + 3037000493ULL) {}
    double uniform() {  // 0..1
        state_ ^= state_ << 13;
        state_ ^= state_ >> 7;
        state_ ^= state_ << 17;
        return static_cast<double>(state_ >> 11) * 0x1.0p-53;
    }
    double normal() {  // mean 0, sd 1, to 6 sigma
        double sum = 0;
        for (int i = 0; i < 12; ++i) sum += uniform();
        return sum - 6;
    }

private:
    std::uint64_t state_;
};

struct Point {
    double minute, celsius;
};

// "minute:value", straight lines between; nothing before the first and after the last point.
class Series {
public:
    Series(std::initializer_list<Point> points) : points_(points) {}
    std::optional<double> at(double minute) const {
        if (points_.empty() || minute < points_.front().minute || minute > points_.back().minute) return {};
        for (std::size_t i = 1; i < points_.size(); ++i) {
            auto const [m0, c0] = points_[i - 1];
            auto const [m1, c1] = points_[i];
            if (minute <= m1) return m1 > m0 ? c0 + (c1 - c0) * (minute - m0) / (m1 - m0) : c1;
        }
        return points_.back().celsius;
    }

private:
    std::vector<Point> points_;
};

// A reading at this second of the run, or nothing.
using Source = std::function<std::optional<Reading>(double second, Instant at)>;

inline Source probe_of(std::function<std::optional<double>(double)> celsius_at_minute, std::uint64_t seed = 1,
                       double noise = 0.1, double step = 0.25) {
    return [=, dice = std::make_shared<Dice>(seed)](double second, Instant at) -> std::optional<Reading> {
        auto const c = celsius_at_minute(second / 60);
        if (!c) return std::nullopt;
        double const noisy = *c + noise * dice->normal();
        return Reading::good(at, step > 0 ? std::round(noisy / step) * step : noisy);
    };
}
inline Source probe_of(Series series, std::uint64_t seed = 1, double noise = 0.1, double step = 0.25) {
    return probe_of([=](double minute) { return series.at(minute); }, seed, noise, step);
}

struct Spell {
    double raised = 0;              // minutes
    std::optional<double> cleared;  // minutes
    std::string text;               // when it was raised
    Priority priority{}, worst{};
};

class Run {
public:
    explicit Run(Settings settings, Instant start = Instant(Span(5'000'000)))
        : settings_(std::move(settings)), start_(start), now_(start), kitchen_(settings_, start) {}

    // `every` in seconds.
    void probe(std::string_view name, Source source, int every = 1) {
        for (std::size_t p = 0; p < settings_.probes.size(); ++p) {
            if (settings_.probes[p].name == name)
                sources_.push_back({static_cast<int>(p), std::move(source), every});
        }
    }
    void tell(Command const& command) {
        auto const from = effects_.size();
        kitchen_.command(now_, command, effects_);
        note_down(from);
    }
    // Runs on to this minute since the start.
    void until(double minute) {
        auto const end = start_ + from_seconds(minute * 60);
        while (now_ < end) {
            auto const from = effects_.size();
            for (auto const& source : sources_) {
                auto const second = (now_ - start_).count() / 1000;
                if (second % source.every != 0) continue;
                if (auto const reading = source.source(static_cast<double>(second), now_)) {
                    kitchen_.take(source.probe, *reading, effects_);
                }
            }
            now_ += std::chrono::seconds(1);
            kitchen_.advance(now_, effects_);
            note_down(from);
        }
    }
    // Off and on again: a new kitchen with what the old one remembered, `off` later.
    void restart(Span off = Span(0)) {
        auto const memory = kitchen_.remember();
        auto const since = now_;
        now_ += off;
        kitchen_ = Kitchen(settings_, now_);
        auto const from = effects_.size();
        kitchen_.recall(memory, since, effects_);
        note_down(from);
    }

    std::vector<Spell> alarms(std::string_view name, std::string_view subject = "") const {
        std::vector<Spell> spells;
        for (auto const& effect : effects_) {
            auto const* change = std::get_if<AlarmChanged>(&effect);
            if (!change || change->alarm.type->name != name) continue;
            if (!subject.empty() && subject_name(settings_, change->alarm.subject) != subject) continue;
            if (change->transition == Transition::raised) {
                spells.push_back({minute(change->at),
                                  {},
                                  change->alarm.text,
                                  change->alarm.priority,
                                  change->alarm.priority});
            } else if (change->transition == Transition::cleared && !spells.empty()) {
                spells.back().cleared = minute(change->at);
            }
            if (!spells.empty()) spells.back().worst = std::max(spells.back().worst, change->alarm.priority);
        }
        return spells;
    }
    // Alarms raised, whichever: "12.5 above-band pot".
    std::vector<std::string> raised() const {
        std::vector<std::string> all;
        for (auto const& effect : effects_) {
            auto const* change = std::get_if<AlarmChanged>(&effect);
            if (!change || change->transition != Transition::raised) continue;
            all.push_back(std::string(change->alarm.type->name) + " " +
                          subject_name(settings_, change->alarm.subject));
        }
        return all;
    }
    std::vector<std::pair<double, Event>> events(std::string_view name) const {
        std::vector<std::pair<double, Event>> found;
        for (auto const& effect : effects_) {
            auto const* event = std::get_if<Event>(&effect);
            if (event && event->name == name) found.emplace_back(minute(event->at), *event);
        }
        return found;
    }
    std::vector<std::pair<double, Forecast>> forecasts(std::string_view what) const {
        std::vector<std::pair<double, Forecast>> found;
        for (auto const& effect : effects_) {
            auto const* forecast = std::get_if<Forecast>(&effect);
            if (forecast && forecast->what == what) found.emplace_back(minute(forecast->at), *forecast);
        }
        return found;
    }
    std::string const& lines() const { return lines_; }
    Effects const& effects() const { return effects_; }
    Kitchen& kitchen() { return kitchen_; }
    Settings const& settings() const { return settings_; }
    double minute(Instant at) const { return seconds(at - start_) / 60; }
    Instant now() const { return now_; }

private:
    struct Fed {
        int probe;
        Source source;
        int every;
    };
    void note_down(std::size_t from) {
        for (auto i = from; i < effects_.size(); ++i) {
            if (auto line = replay_line(settings_, start_, effects_[i])) lines_ += *line + "\n";
            if (auto const* tell = std::get_if<Tell>(&effects_[i]); tell && tell->alarms.size() == 1)
                begins_with_what_and_where(tell->text, tell->alarms.front());
        }
    }
    // Of whatever is told: a lock screen shows 40 characters. The name stands whole in them, and a word
    // beside it.
    void begins_with_what_and_where(std::string const& text, Alarm const& alarm) const {
        if (alarm.subject.kind == SubjectKind::kitchen) return;
        auto const name = subject_name(settings_, alarm.subject);
        auto const shown = text.substr(0, 40);
        auto const at = shown.find(name);
        if (at == std::string::npos || shown.size() < name.size() + 8)
            throw std::logic_error(std::string(alarm.type->name) + " of " + name + " begins \"" + shown +
                                   "\"");
    }

    Settings settings_;
    Instant start_, now_;
    Kitchen kitchen_;
    std::vector<Fed> sources_;
    Effects effects_;
    std::string lines_;
};

// Settings put together as a kitchen file would.
inline int add_probe(Settings& settings, std::string name, double every = 1) {
    ProbeSettings probe;
    probe.name = std::move(name);
    probe.driver = "simulated";
    probe.every = Duration{every};
    settings.probes.push_back(std::move(probe));
    return static_cast<int>(settings.probes.size()) - 1;
}
inline VesselSettings& add_vessel(Settings& settings, std::string name, VesselKind kind, int medium,
                                  std::optional<std::pair<double, double>> band = {}) {
    VesselSettings vessel;
    vessel.name = std::move(name);
    vessel.kind = kind;
    vessel.medium = medium;
    if (band) vessel.band = Band{{band->first}, {band->second}};
    settings.vessels.push_back(std::move(vessel));
    return settings.vessels.back();
}
inline DishSettings& add_dish(Settings& settings, std::string name, int vessel, int core,
                              std::string food = "") {
    DishSettings dish;
    dish.name = std::move(name);
    dish.vessel = vessel;
    dish.core = core;
    dish.food = std::move(food);
    settings.dishes.push_back(std::move(dish));
    return settings.dishes.back();
}
// One vessel "v" of this kind with its probe "p".
inline Settings one_vessel(VesselKind kind, std::optional<std::pair<double, double>> band) {
    Settings settings;
    settings.name = "village hall";
    add_vessel(settings, "v", kind, add_probe(settings, "p"), band);
    return settings;
}

}  // namespace ingle::test
