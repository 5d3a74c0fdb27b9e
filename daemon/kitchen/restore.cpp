// What survives a restart. Subjects are found again by their names: the kitchen file may have been edited.
#include <algorithm>

#include "daemon/kitchen/impl.hpp"

namespace ingle {
namespace {

template <class Situation>
void remember_all(std::vector<Running<Situation>> const& watches, Memory& memory, std::string const& prefix) {
    for (auto const& running : watches) {
        running.watch->remember(memory, prefix + "watch." + std::string(running.info->name) + ".");
    }
}

template <class Situation>
void recall_all(std::vector<Running<Situation>>& watches, Memory const& memory, std::string const& prefix) {
    for (auto& running : watches) {
        running.watch->recall(memory, prefix + "watch." + std::string(running.info->name) + ".");
    }
}

void put_band(Memory& memory, std::string const& key, Band const& band) {
    memory.put(key + ".low", band.low.celsius);
    memory.put(key + ".high", band.high.celsius);
}

constexpr Span shortest_gap = std::chrono::seconds(1);

std::optional<Band> band_at(Memory const& memory, std::string const& key) {
    auto const low = memory.number(key + ".low"), high = memory.number(key + ".high");
    if (!low || !high || !(*low < *high)) return std::nullopt;
    return Band{{*low}, {*high}};
}

}  // namespace

Memory Kitchen::remember() const {
    auto const& in = *impl_;
    Memory memory;
    memory.put("kitchen.last-cook", in.last_cook);
    if (in.measured_pressure) memory.put("kitchen.pressure", in.measured_pressure->pascals);
    in.timers.remember(memory);
    in.desk.remember(memory);
    for (std::size_t p = 0; p < in.conditioners.size(); ++p) {
        auto const prefix = "probe." + in.settings.probes[p].name + ".";
        in.conditioners[p].remember(memory, prefix);
        remember_all(in.probes[p].watches, memory, prefix);
    }
    for (std::size_t v = 0; v < in.vessels.size(); ++v) {
        auto const& vessel = in.vessels[v];
        auto const prefix = "vessel." + in.settings.vessels[v].name + ".";
        if (vessel.held) {
            memory.put(prefix + "held", std::int64_t{1});
            if (*vessel.held) put_band(memory, prefix + "held", **vessel.held);
            memory.put(prefix + "person-is-newer", std::int64_t{vessel.person_is_newer});
        }
        if (vessel.kept) memory.put(prefix + "kept", std::int64_t{1});
        if (vessel.emptied) memory.put(prefix + "emptied", std::int64_t{1});
        if (vessel.band_silenced) memory.put(prefix + "silenced", std::int64_t{1});
        vessel.silence.remember(memory, prefix + "silence.");
        if (vessel.band) {
            put_band(memory, prefix + "band", *vessel.band);
            memory.put(prefix + "reached", std::int64_t{vessel.phase == BandPhase::held});
            memory.put(prefix + "band-since", vessel.band_since);
            memory.put(prefix + "side", std::int64_t{vessel.side});
        }
        if (vessel.door_switch_open) memory.put(prefix + "door-open", std::int64_t{*vessel.door_switch_open});
        remember_all(vessel.watches, memory, prefix);
        // The order in which stages laid their bands on this vessel.
        for (std::size_t i = 0; i < vessel.stages.size(); ++i) {
            auto const& dish = in.settings.dishes[static_cast<std::size_t>(vessel.stages[i].dish)];
            memory.put(prefix + "stage." + std::to_string(i), dish.name);
        }
    }
    for (std::size_t d = 0; d < in.dishes.size(); ++d) {
        auto const& dish = in.dishes[d];
        auto const prefix = "dish." + in.settings.dishes[d].name + ".";
        dish.cook.remember(memory, prefix + "cook.");
        if (dish.cook.begun() && dish.ledger) dish.ledger->remember(memory, prefix + "food.");
    }
    return memory;
}

void Kitchen::recall(Memory const& memory, std::optional<Instant> off_since, Effects& out) {
    auto& in = *impl_;
    bool const ran_before = !memory.all().empty();
    in.begin_run(out);
    if (ran_before && !(off_since && in.now - *off_since < shortest_gap)) {
        Event gap{in.now,
                  "gap",
                  {},
                  "nothing was watched while the program was off, for how long is not known.",
                  {}};
        if (off_since) {
            double const s = std::max(0.0, seconds(in.now - *off_since));
            gap.text = "nothing was watched for " + show(Duration{s}) + " while the program was off.";
            gap.numbers = {{"length_s", s}};
        }
        out.push_back(std::move(gap));
    }
    in.last_cook = std::max(in.last_cook, memory.integer("kitchen.last-cook").value_or(0));
    if (auto const pascals = memory.number("kitchen.pressure")) in.measured_pressure = Pressure{*pascals};
    for (std::size_t p = 0; p < in.conditioners.size(); ++p) {
        auto const prefix = "probe." + in.settings.probes[p].name + ".";
        in.conditioners[p].recall(memory, prefix);
        in.signals[p] = in.conditioners[p].signal();
        recall_all(in.probes[p].watches, memory, prefix);
    }
    for (int d = 0; d < static_cast<int>(in.dishes.size()); ++d) {
        auto& dish = in.dishes[static_cast<std::size_t>(d)];
        auto const prefix = "dish." + in.settings.dishes[static_cast<std::size_t>(d)].name + ".";
        auto edited = dish.cook.recall(memory, prefix + "cook.");
        if (!edited.empty())
            out.push_back(Event{in.now, "plan-changed", {SubjectKind::dish, d}, std::move(edited), {}});
        if (!dish.cook.begun()) continue;
        in.begin_ledger(d, dish.cook.began_at());
        dish.ledger->recall(memory, prefix + "food.");
        dish.fed = in.now;
        if (!off_since) dish.ledger->gap_of_unknown_length(in.now);
    }
    for (int v = 0; v < static_cast<int>(in.vessels.size()); ++v) {
        auto& vessel = in.vessels[static_cast<std::size_t>(v)];
        auto const prefix = "vessel." + in.settings.vessels[static_cast<std::size_t>(v)].name + ".";
        if (memory.integer(prefix + "held")) {
            vessel.held = band_at(memory, prefix + "held");
            vessel.person_is_newer = memory.integer(prefix + "person-is-newer").value_or(0) != 0;
        }
        for (int i = 0;; ++i) {
            auto const name = memory.text(prefix + "stage." + std::to_string(i));
            if (!name) break;
            for (int d = 0; d < static_cast<int>(in.dishes.size()); ++d) {
                auto const* stage = in.dishes[static_cast<std::size_t>(d)].cook.stage();
                if (in.settings.dishes[static_cast<std::size_t>(d)].name != *name || !stage || !stage->band)
                    continue;
                vessel.stages.push_back({d, *stage->band});
            }
        }
        vessel.kept = memory.integer(prefix + "kept").value_or(0) != 0;
        vessel.emptied = memory.integer(prefix + "emptied").value_or(0) != 0;
        vessel.band_silenced = memory.integer(prefix + "silenced").value_or(0) != 0;
        vessel.silence.recall(memory, prefix + "silence.");
        vessel.needed = in.is_needed(v);
        in.settle_boiling(v);
        in.settle_band(v);
        if (vessel.band && band_at(memory, prefix + "band") == vessel.band) {
            bool const reached = memory.integer(prefix + "reached").value_or(0) != 0;
            vessel.phase = reached ? BandPhase::held : BandPhase::warming_up;
            vessel.band_since = memory.instant(prefix + "band-since").value_or(in.now);
            vessel.side = static_cast<int>(memory.integer(prefix + "side").value_or(0));
        }
        if (auto const open = memory.integer(prefix + "door-open")) vessel.door_switch_open = *open != 0;
        recall_all(vessel.watches, memory, prefix);
    }
    in.timers.recall(memory, !ran_before || off_since.has_value());
    in.desk.recall(in.now, memory, out);
    in.changed(out);
}

void Kitchen::number_from(std::int64_t last_alarm, std::int64_t last_cook) {
    impl_->desk.number_from(last_alarm);
    impl_->last_cook = std::max(impl_->last_cook, last_cook);
}

void Kitchen::continue_alarms_of(Kitchen& watching) {
    watching.impl_->desk.correct_times(impl_->desk);
    impl_->desk = std::move(watching.impl_->desk);
    impl_->memory_dirty = true;
}

}  // namespace ingle
