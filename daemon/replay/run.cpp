#include "daemon/replay/run.hpp"

#include <algorithm>
#include <utility>

#include "daemon/kitchen/kitchen.hpp"
#include "daemon/model/as_recorded.hpp"

namespace ingle {

Recording as_kept(Recording recording) {
    for (auto& cell : recording.cells)
        if (auto* celsius = std::get_if<double>(&cell)) *celsius = as_recorded(*celsius);
    return recording;
}

void follow_rhythm(Settings& settings, Recording const& recording) {
    for (auto& probe : settings.probes) {
        int const column = recording.column(probe.name);
        if (column < 0) continue;
        // Of two values with nothing between them; where there are none, of two rows of any kind.
        std::vector<double> apart, of_any_kind;
        std::optional<Span> before;
        bool value_before = false;
        for (std::size_t row = 0; row < recording.rows(); ++row) {
            auto const& cell = recording.row(row)[static_cast<std::size_t>(column)];
            if (std::holds_alternative<std::monostate>(cell)) continue;
            auto const at = recording.times[row];
            bool const value = std::holds_alternative<double>(cell);
            if (before && at > *before) {
                of_any_kind.push_back(seconds(at - *before));
                if (value && value_before) apart.push_back(of_any_kind.back());
            }
            before = at;
            value_before = value;
        }
        if (apart.empty()) apart = std::move(of_any_kind);
        if (apart.empty()) continue;
        auto const middle = apart.begin() + static_cast<std::ptrdiff_t>(apart.size() / 2);
        std::nth_element(apart.begin(), middle, apart.end());
        double const share = *middle / probe.every.seconds;
        if (share < 0.5 || share > 1.5) probe.every.seconds = *middle;
    }
}

namespace {

// An exported recording has the kitchen's own words among its notes, too.
bool tells(Effects const& effects, std::string const& note) {
    return std::ranges::any_of(effects, [&](Effect const& effect) {
        auto const* event = std::get_if<Event>(&effect);
        return event && event->name == "note" && event->text == note;
    });
}

}  // namespace

ReplayEnd run_replay(Settings const& settings, Recording const& recording, std::vector<int> const& dishes,
                     std::function<void(Effect const&)> const& on_effect) {
    std::vector<TimedCommand> commands;
    for (int const dish : dishes) commands.push_back({Span(0), Begin{dish}});
    return run_replay(settings, recording, commands, on_effect);
}

ReplayEnd run_replay(Settings const& given, Recording const& recording,
                     std::vector<TimedCommand> const& commands,
                     std::function<void(Effect const&)> const& on_effect) {
    ReplayEnd end;
    auto settings = given;
    follow_rhythm(settings, recording);
    Kitchen kitchen(settings, end.start);
    Effects effects;
    auto const flush = [&] {
        for (auto const& effect : effects) {
            auto const* change = std::get_if<AlarmChanged>(&effect);
            if (!change || change->alarm.state != AlarmState::out_of_service) on_effect(effect);
        }
        effects.clear();
    };

    std::vector<int> probe_of(recording.columns.size(), -1);
    for (std::size_t number = 0; number < settings.probes.size(); ++number) {
        int const column = recording.column(settings.probes[number].name);
        if (column >= 0) {
            probe_of[static_cast<std::size_t>(column)] = static_cast<int>(number);
        } else {
            kitchen.command(
                end.start,
                OutOfService{{SubjectKind::probe, static_cast<int>(number)}, true, "replay", false}, effects);
        }
    }
    if (recording.start) {
        kitchen.command(
            end.start,
            ClockAnchor{(recording.start->time_since_epoch() - end.start.time_since_epoch()).count(), true},
            effects);
    }
    effects.clear();  // setting the stage is not part of the run
    auto next = commands.begin();
    auto const obey = [&](Span until) {
        for (; next != commands.end() && next->after <= until; ++next)
            kitchen.command(end.start + next->after, next->command, effects);
    };
    obey(Span(0));
    flush();

    auto note = recording.notes.begin();
    for (std::size_t row = 0; row < recording.rows(); ++row) {
        auto const at = end.start + recording.times[row];
        auto const cells = recording.row(row);
        obey(recording.times[row] - Span(1));
        for (std::size_t column = 0; column < cells.size(); ++column) {
            if (probe_of[column] < 0) continue;
            if (auto const reading = reading_of(cells[column], at))
                kitchen.take(probe_of[column], *reading, effects);
        }
        kitchen.advance(at, effects);
        for (; note != recording.notes.end() && note->first == row; ++note)
            if (!tells(effects, note->second)) kitchen.command(at, Note{{}, note->second, {}}, effects);
        obey(recording.times[row]);
        end.end = at;
        flush();
    }
    end.summary = kitchen.summary();
    return end;
}

}  // namespace ingle
