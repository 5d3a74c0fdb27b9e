#include "daemon/notices/sound/pattern.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <numbers>

#include "config/civil_time/iso_time.hpp"

namespace ingle::sound {
namespace {

using std::chrono::milliseconds;

constexpr std::chrono::minutes steps[highest_step] = {std::chrono::minutes(2), std::chrono::minutes(10)};
// Each step is twice as loud (in amplitude) as the one before, and its gaps are shorter.
constexpr std::array<double, highest_step + 1> loudness_of_step{0.25, 0.5, 1.0};
constexpr std::array<double, highest_step + 1> gaps_of_step{1.0, 0.7, 0.5};

// A pattern: its tones one after the other, so often. Fifths apart at most, so that none is drowned by a fan.
struct Pattern {
    std::array<double, 3> hertz{};
    int tones = 1, strokes = 1, more_each_step = 0;
    milliseconds sound{}, gap{};
};
constexpr Pattern low{{620}, 1, 1, 0, milliseconds(400), milliseconds(300)};
constexpr Pattern medium{{620, 775, 930}, 3, 3, 0, milliseconds(280), milliseconds(240)};
constexpr Pattern high{{930, 1240}, 2, 8, 4, milliseconds(170), milliseconds(150)};

// Partials of a stroke: what an ear that hears no high tones any more still has, and what a small speaker can
// give.
constexpr std::array<double, 3> partials{0.6, 0.28, 0.12};
constexpr milliseconds attack{6}, release{12};  // without them each stroke would begin and end with a click
constexpr double decay_s = 0.25;

void add(std::vector<Stroke>& out, Pattern const& pattern, int step, double loudness) {
    auto const s = static_cast<std::size_t>(step);
    auto const gap = milliseconds(std::llround(static_cast<double>(pattern.gap.count()) * gaps_of_step[s]));
    int const count = pattern.strokes + pattern.more_each_step * step;
    for (int i = 0; i < count; ++i)
        out.push_back({pattern.hertz[static_cast<std::size_t>(i % pattern.tones)],
                       loudness * loudness_of_step[s], pattern.sound, gap});
}

Pattern const& pattern_of(std::string const& priority) {
    return priority == "high" ? high : priority == "medium" ? medium : low;
}

std::size_t samples_in(milliseconds length) {
    return static_cast<std::size_t>(length.count()) * samples_per_s / 1000;
}

}  // namespace

int step_of(Notice const& notice, std::chrono::seconds later) {
    auto const at = notice.at ? parse_iso_time(*notice.at) : std::nullopt;
    auto const since = notice.since ? parse_iso_time(*notice.since) : std::nullopt;
    auto const told = notice.kind == "reminder" ? std::chrono::seconds(steps[0]) : std::chrono::seconds(0);
    auto const stood = later + (at && since ? std::chrono::floor<std::chrono::seconds>(*at - *since) : told);
    return static_cast<int>(std::ranges::count_if(steps, [&](auto limit) { return stood >= limit; }));
}

std::vector<Stroke> strokes_of(Notice const& notice, int step, double loudness) {
    std::vector<Stroke> strokes;
    step = std::clamp(step, 0, highest_step);
    if (notice.kind == "test") {  // each of them, to be known again
        for (auto const* each : {&low, &medium, &high}) {
            add(strokes, *each, 0, loudness);
            strokes.back().gap += milliseconds(400);
        }
    } else if (notice.kind != "cleared") {
        add(strokes, pattern_of(notice.priority), step, loudness);
    }
    return strokes;
}

std::chrono::milliseconds length_of(std::vector<Stroke> const& strokes) {
    milliseconds length{0};
    for (auto const& stroke : strokes) length += stroke.sound + stroke.gap;
    return length;
}

std::vector<std::int16_t> samples_of(std::vector<Stroke> const& strokes) {
    std::vector<std::int16_t> out;
    out.reserve(samples_in(length_of(strokes)));
    for (auto const& stroke : strokes) {
        auto const count = samples_in(stroke.sound);
        for (std::size_t i = 0; i < count; ++i) {
            double const t = static_cast<double>(i) / samples_per_s;
            double const left = static_cast<double>(count - i) / samples_per_s;
            double const edge = std::min({1.0, t * 1000 / static_cast<double>(attack.count()),
                                          left * 1000 / static_cast<double>(release.count())});
            double wave = 0;
            for (std::size_t p = 0; p < partials.size(); ++p)
                wave += partials[p] *
                        std::sin(2 * std::numbers::pi * stroke.hertz * static_cast<double>(p + 1) * t);
            out.push_back(static_cast<std::int16_t>(
                std::lround(32'767 * stroke.loudness * edge * std::exp(-t / decay_s) * wave)));
        }
        out.resize(out.size() + samples_in(stroke.gap));
    }
    return out;
}

}  // namespace ingle::sound
