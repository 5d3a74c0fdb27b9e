// What survives a restart. Subjects are found again by their names: the kitchen file may have been edited.
#include <algorithm>

#include "config/device.hpp"
#include "config/station_pressure.hpp"
#include "daemon/kitchen/impl.hpp"

namespace ingle {
namespace {

// Of what each part remembers: one more whenever one of its keys comes to mean something else. A watch has
// its own, in its WatchInfo.
constexpr int kitchen_version = 1, timers_version = 1, desk_version = 1, probe_version = 1,
              vessel_version = 1, cook_version = 1, food_version = 1, notes_version = 1,
              reminders_version = 1, trouble_version = 1,
              without_version = 1 + 100 * (cook_version - 1) + 10'000 * (food_version - 1);

// Writes the texts of one part and their version; a part that has nothing to say writes none.
template <class Write>
void remember_part(Memory& memory, std::string const& prefix, int version, Write const& write) {
    auto const before = memory.all().size();
    write(memory);
    if (memory.all().size() > before) memory.put_version(prefix, version);
}

// Reads the texts of the parts that were written as this program reads them, and keeps the names of the
// others: those begin anew, as if they had never been remembered.
class Parts {
public:
    explicit Parts(Memory const& memory) : memory_(memory) {}
    // What is remembered below `prefix`; nothing where it is of another version.
    Memory const& of(std::string const& prefix, int version, std::string const& name) {
        auto const first = memory_.first_with(prefix);
        bool const any = first != memory_.all().end() && first->first.starts_with(prefix);
        if (!any || memory_.is_version(prefix, version)) return memory_;
        refused_ += (refused_.empty() ? "" : ", ") + name;
        return nothing_;
    }
    bool any_refused() const { return !refused_.empty(); }
    // A value that was stored and is none that would be accepted today.
    void refuse(Subject subject, std::string const& what, std::string const& why) {
        values_.emplace_back(subject,
                             "kept from before, refused, and not used any more: " + what + " " + why + ".");
    }
    void tell(Instant now, Effects& out) const {
        for (auto const& [subject, text] : values_)
            out.push_back(Event{now, "not-restored", subject, text, {}});
        if (!any_refused()) return;
        out.push_back(
            Event{now,
                  "not-restored",
                  {},
                  "kept by another version of Ingle, not read, and unknown from now on: " + refused_ + ".",
                  {}});
    }

private:
    Memory const& memory_;
    Memory const nothing_;
    std::string refused_;
    std::vector<std::pair<Subject, std::string>> values_;
};

template <class Situation>
void remember_all(std::vector<Running<Situation>> const& watches, Memory& memory, std::string const& prefix) {
    for (auto const& running : watches) {
        std::string const below = prefix + "watch." + std::string(running.info->name) + ".";
        remember_part(memory, below, running.info->memory_version,
                      [&](Memory& to) { running.watch->remember(to, below); });
    }
}

template <class Situation>
void recall_all(std::vector<Running<Situation>>& watches, std::string const& prefix,
                std::string const& subject, Parts& parts) {
    for (auto& running : watches) {
        std::string const name(running.info->name), below = prefix + "watch." + name + ".";
        running.watch->recall(
            parts.of(below, running.info->memory_version, "the watch " + name + " of " + subject), below);
    }
}

void put_band(Memory& memory, std::string const& key, Band const& band) {
    memory.put(key + ".low", band.low.celsius);
    memory.put(key + ".high", band.high.celsius);
}

std::string source_of(ProbeSettings const& probe) {
    return probe.driver + " " + device_of(probe);
}

constexpr Span shortest_gap = std::chrono::seconds(1);

std::optional<Band> band_at(Memory const& memory, std::string const& key) {
    auto const low = memory.number(key + ".low"), high = memory.number(key + ".high");
    if (!low || !high || !(*low < *high)) return std::nullopt;
    return Band{{*low}, {*high}};
}

// What the kitchen file says of the air; a pressure that was measured goes before it until it says otherwise.
std::string air_of_the_file(Settings const& settings) {
    auto const text = [](bool given, double value) {
        return given ? std::to_string(value) : std::string("-");
    };
    return text(settings.altitude.has_value(), settings.altitude.value_or(Length{}).metres) + " m " +
           text(settings.pressure.has_value(), settings.pressure.value_or(Pressure{}).pascals) + " Pa";
}

}  // namespace

Memory Kitchen::remember() const {
    auto const& in = *impl_;
    Memory memory;
    for (auto const& [key, text] : in.left_behind.all()) memory.put(key, text);
    memory.put_version("kitchen.", kitchen_version);
    memory.put("kitchen.last-cook", in.last_cook);
    if (in.measured_pressure) {
        memory.put("kitchen.pressure", in.measured_pressure->pascals);
        memory.put("kitchen.pressure-beside", air_of_the_file(in.settings));
    }
    in.timers.remember(memory);
    memory.put_version("timers.", timers_version);
    remember_part(memory, "notes.", notes_version, [&](Memory& to) { in.remember_notes(to, "notes."); });
    remember_part(memory, "reminders.", reminders_version,
                  [&](Memory& to) { in.reminders.remember(to, "reminders.", in.reminder_facts()); });
    in.desk.remember(memory);
    memory.put_version("alarm.", desk_version);
    remember_part(memory, "trouble.", trouble_version, [&](Memory& to) {
        for (auto const& [alarm, joined] : in.in_trouble)
            for (auto const& name : joined) to.put("trouble." + alarm + "." + name, std::int64_t{1});
    });
    for (std::size_t p = 0; p < in.conditioners.size(); ++p) {
        auto const prefix = "probe." + in.settings.probes[p].name + ".";
        in.conditioners[p].remember(memory, prefix);
        memory.put(prefix + "source", source_of(in.settings.probes[p]));
        memory.put_version(prefix, probe_version);
        remember_all(in.probes[p].watches, memory, prefix);
    }
    for (std::size_t v = 0; v < in.vessels.size(); ++v) {
        auto const& vessel = in.vessels[v];
        auto const prefix = "vessel." + in.settings.vessels[v].name + ".";
        memory.put_version(prefix, vessel_version);
        if (vessel.held) {
            memory.put(prefix + "held", std::int64_t{1});
            if (*vessel.held) put_band(memory, prefix + "held", **vessel.held);
            memory.put(prefix + "person-is-newer", std::int64_t{vessel.person_is_newer});
        }
        if (vessel.kept) memory.put(prefix + "kept", std::int64_t{1});
        if (vessel.emptied) memory.put(prefix + "emptied", std::int64_t{1});
        if (vessel.hold_for) memory.put(prefix + "hold-for-ms", std::int64_t{vessel.hold_for->count()});
        if (vessel.hold_timer != 0) memory.put(prefix + "hold-timer", vessel.hold_timer);
        if (vessel.band_silenced) memory.put(prefix + "silenced", std::int64_t{1});
        vessel.silence.remember(memory, prefix + "silence.");
        if (vessel.band) {
            put_band(memory, prefix + "band", *vessel.band);
            memory.put(prefix + "reached", std::int64_t{vessel.phase == BandPhase::held});
            memory.put(prefix + "band-since", vessel.band_since);
            memory.put(prefix + "side", std::int64_t{vessel.side});
        }
        in.remember_watched(memory, static_cast<int>(v), prefix);
        if (vessel.door_switch_open) memory.put(prefix + "door-open", std::int64_t{*vessel.door_switch_open});
        remember_all(vessel.watches, memory, prefix);
        // The order in which stages laid their bands on this vessel.
        for (std::size_t i = 0; i < vessel.stages.size(); ++i) {
            auto const& dish = in.settings.dishes[static_cast<std::size_t>(vessel.stages[i].dish)];
            memory.put(prefix + "stage." + std::to_string(i), dish.name);
        }
    }
    in.remember_serving_times(memory);
    for (std::size_t d = 0; d < in.dishes.size(); ++d) {
        auto const& dish = in.dishes[d];
        auto const prefix = "dish." + in.settings.dishes[d].name + ".";
        remember_part(memory, prefix + "cook.", cook_version,
                      [&](Memory& to) { dish.cook.remember(to, prefix + "cook."); });
        if (auto const& served = in.ended_for[d]) memory.put("served." + in.settings.dishes[d].name, *served);
        if (auto const& ended = in.ended_at[d]) memory.put("ended." + in.settings.dishes[d].name, *ended);
        remember_part(memory, prefix + "without.", without_version,
                      [&](Memory& to) { in.remember_without(to, static_cast<int>(d), prefix + "without."); });
        if (dish.cook.begun() && dish.ledger)
            remember_part(memory, prefix + "food.", food_version,
                          [&](Memory& to) { dish.ledger->remember(to, prefix + "food."); });
    }
    return memory;
}

void Kitchen::goes_on(std::optional<ClockAnchor> const& clock, Effects& out) {
    auto& in = *impl_;
    in.started = true;
    if (clock) in.know_the_time(*clock);
    out.push_back(Event{in.now, "kitchen-file-read", {}, "The kitchen file was read again.", {}});
}

void Kitchen::recall(Memory const& memory, std::optional<Instant> off_since, Effects& out) {
    auto& in = *impl_;
    bool const ran_before = !memory.all().empty();
    in.begin_run(out);
    if (ran_before && !(off_since && in.now - *off_since < shortest_gap)) {
        Event gap{
            in.now, "gap", {}, "nothing was recorded before this start, for how long is not known.", {}};
        if (off_since) {
            double const s = std::max(0.0, seconds(in.now - *off_since));
            gap.text = "nothing was recorded for " + show(Duration{s}) + " before this start.";
            if (memory.is_joined())
                gap.text = "nothing was recorded for " + show(Duration{s}) +
                           " in all before this start, more than once: no clock told the time between.";
            gap.numbers = {{"length_s", s}};
        }
        out.push_back(std::move(gap));
    }
    in.leave_behind(memory, out);
    Parts parts(memory);
    auto const& shared = parts.of("kitchen.", kitchen_version, "the air pressure");
    in.last_cook = std::max(in.last_cook, shared.integer("kitchen.last-cook").value_or(0));
    if (auto const beside = shared.text("kitchen.pressure-beside");
        beside && *beside != air_of_the_file(in.settings))
        out.push_back(Event{in.now,
                            "note",
                            {},
                            "The air pressure that was measured counts no more: the kitchen file says "
                            "otherwise since.",
                            {}});
    else if (auto const pascals = shared.number("kitchen.pressure");
             pascals && is_station_pressure({*pascals}))
        in.measured_pressure = Pressure{*pascals};
    else if (shared.text("kitchen.pressure"))
        parts.refuse({}, "the measured air pressure", std::string("is not ") + station_pressure_range);
    auto const& trouble = parts.of("trouble.", trouble_version, "which channels and switches were told of");
    for (auto const& type : kitchen_alarms()) {
        auto const prefix = "trouble." + std::string(type.name) + ".";
        for (auto at = trouble.first_with(prefix); at != trouble.all().end() && at->first.starts_with(prefix);
             ++at)
            in.in_trouble[std::string(type.name)].insert(at->first.substr(prefix.size()));
    }
    std::vector<bool> other_source(in.conditioners.size());
    for (std::size_t p = 0; p < in.conditioners.size(); ++p) {
        auto const& name = in.settings.probes[p].name;
        auto const prefix = "probe." + name + ".";
        auto const& own = parts.of(prefix, probe_version, "the noise and the calibration of " + name);
        auto const source = own.text(prefix + "source");
        other_source[p] = source && *source != source_of(in.settings.probes[p]);
        auto const wrong = other_source[p] ? in.conditioners[p].recall_calibration(own, prefix)
                                           : in.conditioners[p].recall(own, prefix);
        if (!wrong.empty())
            parts.refuse({SubjectKind::probe, static_cast<int>(p)}, "the calibration of " + name, wrong);
        if (other_source[p]) {
            bool const calibrated = !in.conditioners[p].calibration().empty();
            out.push_back(Event{
                in.now,
                "note",
                {SubjectKind::probe, static_cast<int>(p)},
                name + " is read from another place than before: nothing is known of it until it reads." +
                    (calibrated ? " Its calibration is kept: is it the same sensor?" : ""),
                {}});
            continue;
        }
        in.conditioners[p].advance(in.now, out);  // what it read last is as old as it is
        in.signals[p] = in.conditioners[p].signal();
        recall_all(in.probes[p].watches, prefix, name, parts);
    }
    in.recall_serving_times(memory);
    for (int d = 0; d < static_cast<int>(in.dishes.size()); ++d) {
        auto& dish = in.dishes[static_cast<std::size_t>(d)];
        auto const& name = in.settings.dishes[static_cast<std::size_t>(d)].name;
        auto const prefix = "dish." + name + ".";
        auto edited = dish.cook.recall(parts.of(prefix + "cook.", cook_version, "the cook of " + name),
                                       prefix + "cook.");
        if (!edited.empty())
            out.push_back(Event{in.now, "plan-changed", {SubjectKind::dish, d}, std::move(edited), {}});
        in.recall_without(parts.of(prefix + "without.", without_version, "what can be taken back of " + name),
                          d, prefix + "without.", off_since.has_value());
        in.ended_for[static_cast<std::size_t>(d)] = memory.integer("served." + name);
        in.ended_at[static_cast<std::size_t>(d)] = memory.instant("ended." + name);
        if (!dish.cook.begun()) continue;
        in.begin_ledger(d, dish.cook.began_at());
        dish.ledger->recall(parts.of(prefix + "food.", food_version, "the food record of " + name),
                            prefix + "food.");
        dish.fed = in.now;
        if (!off_since || !memory.is_placed(prefix + "food.begun"))
            dish.ledger->gap_of_unknown_length(in.now);
        else if (memory.is_joined())
            dish.ledger->gaps_are_measured();
    }
    for (int v = 0; v < static_cast<int>(in.vessels.size()); ++v) {
        auto& vessel = in.vessels[static_cast<std::size_t>(v)];
        auto const& name = in.settings.vessels[static_cast<std::size_t>(v)].name;
        auto const prefix = "vessel." + name + ".";
        auto const& own = parts.of(prefix, vessel_version, "the band of " + name);
        if (own.integer(prefix + "held")) {
            vessel.held = band_at(own, prefix + "held");
            if (!*vessel.held && own.text(prefix + "held.low")) {
                vessel.held.reset();
                parts.refuse({SubjectKind::vessel, v}, "the band that " + name + " is held at",
                             "cannot be read");
            }
            vessel.person_is_newer = own.integer(prefix + "person-is-newer").value_or(0) != 0;
        }
        for (int i = 0;; ++i) {
            auto const dish = own.text(prefix + "stage." + std::to_string(i));
            if (!dish) break;
            for (int d = 0; d < static_cast<int>(in.dishes.size()); ++d) {
                auto const* stage = in.dishes[static_cast<std::size_t>(d)].cook.stage();
                if (in.settings.dishes[static_cast<std::size_t>(d)].name != *dish || !stage || !stage->band ||
                    stage->vessel != v)
                    continue;
                vessel.stages.push_back({d, *stage->band});
            }
        }
        in.lay_missing_bands(v, out);
        vessel.kept = own.integer(prefix + "kept").value_or(0) != 0;
        vessel.emptied = own.integer(prefix + "emptied").value_or(0) != 0;
        if (auto const length = own.integer(prefix + "hold-for-ms")) vessel.hold_for = Span(*length);
        vessel.hold_timer = own.integer(prefix + "hold-timer").value_or(0);
        vessel.band_silenced = own.integer(prefix + "silenced").value_or(0) != 0;
        vessel.silence.recall(own, prefix + "silence.");
        vessel.needed = in.is_needed(v);
        in.recall_watched(own, v, prefix, out);
        in.settle_boiling(v);
        in.settle_band(v);
        auto const before = band_at(own, prefix + "band");
        if (vessel.band && before &&
            (before == vessel.band || in.as_far_as_before(v, *before, *vessel.band))) {
            bool const reached = own.integer(prefix + "reached").value_or(0) != 0;
            vessel.phase = reached ? BandPhase::held : BandPhase::warming_up;
            vessel.band_since = own.instant(prefix + "band-since").value_or(in.now);
            vessel.side = static_cast<int>(memory.integer(prefix + "side").value_or(0));
        }
        if (auto const open = own.integer(prefix + "door-open")) vessel.door_switch_open = *open != 0;
        // What they judged by was another instrument's.
        if (std::ranges::none_of(vessel.probes,
                                 [&](int probe) { return other_source[static_cast<std::size_t>(probe)]; }))
            recall_all(vessel.watches, prefix, name, parts);
    }
    in.recall_notes(parts.of("notes.", notes_version, "the newest notes"), "notes.");
    in.timers.recall(parts.of("timers.", timers_version, "the timers"), !ran_before || off_since.has_value());
    in.stop_holds_left_behind(memory);
    for (auto const& text :
         in.reminders.recall(parts.of("reminders.", reminders_version, "the reminders"), "reminders.", in.now,
                             !ran_before || off_since.has_value(),
                             [&](std::string const& about) { return in.find_subject(about); }))
        out.push_back(Event{in.now,
                            "not-restored",
                            {},
                            "The reminder \"" + text +
                                "\" waits for what the kitchen file does not have. It is kept for when that "
                                "is put back.",
                            {}});
    in.place_reminders();
    in.desk.recall(in.now, parts.of("alarm.", desk_version, "the alarms"), out,
                   parts.any_refused() || std::ranges::find(other_source, true) != other_source.end());
    in.tell_dropped(out);
    in.trouble_unseen();
    parts.tell(in.now, out);
    in.changed(out);
}

void Kitchen::number_from(std::int64_t last_alarm, std::int64_t last_cook) {
    impl_->desk.number_from(last_alarm);
    impl_->last_cook = std::max(impl_->last_cook, last_cook);
}

void Kitchen::continue_alarms_of(Kitchen& watching) {
    auto& before = *watching.impl_;
    before.desk.correct_times(impl_->desk);
    before.desk.retract("timer-over", {}, impl_->timers.correct(before.timers, impl_->now));
    before.desk.retract("reminder-due", {}, impl_->reminders.correct(before.reminders, impl_->now));
    impl_->desk = std::move(before.desk);
    impl_->memory_dirty = true;
}

}  // namespace ingle
