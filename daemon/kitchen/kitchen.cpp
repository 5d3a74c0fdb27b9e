#include "daemon/kitchen/kitchen.hpp"

#include <algorithm>
#include <cmath>

#include "daemon/kitchen/impl.hpp"

namespace ingle {
namespace {

constexpr Span second = std::chrono::seconds(1);
// What grows slowly (the past of a core, the food's ledger) is made durable this often; all else at once.
constexpr Span memory_every = std::chrono::minutes(1);

std::vector<AlarmType const*> all_types() {
    std::vector<AlarmType const*> types;
    auto const add = [&](std::span<AlarmType const> more) {
        for (auto const& type : more) types.push_back(&type);
    };
    for (auto const* watch : watches()) add(watch->alarms);
    add(cook_alarms());
    add(timer_alarms());
    add(reminder_alarms());
    add(food_alarms());
    add(conflict_alarms());
    add(unwatched_alarms());
    add(kitchen_alarms());
    return types;
}

}  // namespace

AlarmType const* find_type(std::span<AlarmType const> types, std::string_view name) {
    auto const found =
        std::find_if(types.begin(), types.end(), [&](auto const& t) { return t.name == name; });
    return found == types.end() ? nullptr : &*found;
}

Kitchen::Impl::Impl(Settings s, Instant start)
    : settings(std::move(s)),
      now(start),
      next_tick(start + second),
      probes(settings.probes.size()),
      vessels(settings.vessels.size()),
      desk(settings, all_types()),
      remembered(start) {
    for (int p = 0; p < static_cast<int>(probes.size()); ++p) {
        conditioners.emplace_back(settings, p);
        signals.push_back(conditioners.back().signal());
    }
    for (int v = 0; v < static_cast<int>(vessels.size()); ++v) {
        auto const& vessel = settings.vessels[static_cast<std::size_t>(v)];
        auto& state = vessels[static_cast<std::size_t>(v)];
        if (vessel.medium >= 0) state.probes.push_back(vessel.medium);
        state.probes.insert(state.probes.end(), vessel.more.begin(), vessel.more.end());
        for (int const p : state.probes) {
            auto& probe = probes[static_cast<std::size_t>(p)];
            probe.vessel = v;
            for (int const other : state.probes) {
                if (other != p) probe.companions.push_back(other);
            }
        }
        if (vessel.kind == VesselKind::room && vessel.medium >= 0 && room_probe < 0)
            room_probe = vessel.medium;
        settle_boiling(v);
        settle_band(v);
        for (auto const* info : watches()) {
            auto watch = info->for_vessel ? info->for_vessel(settings, v) : nullptr;
            if (watch) state.watches.push_back({info, std::move(watch)});
        }
    }
    if (!settings.zone.empty()) zone = TimeZone::named(settings.zone);
    begins.resize(settings.dishes.size());
    ended_for.resize(settings.dishes.size());
    for (auto const& dish : settings.dishes) filed_serve_at.push_back(dish.serve_at);
    ended_at.resize(settings.dishes.size());
    for (int d = 0; d < static_cast<int>(settings.dishes.size()); ++d) {
        auto const& dish = settings.dishes[static_cast<std::size_t>(d)];
        auto& state = dishes.emplace_back(settings, d);
        if (dish.core >= 0) state.probes.push_back(dish.core);
        state.probes.insert(state.probes.end(), dish.more_cores.begin(), dish.more_cores.end());
        for (int const p : state.probes) probes[static_cast<std::size_t>(p)].is_core = true;
    }
    without.resize(dishes.size());
    recent.resize(probes.size());
    for (int p = 0; p < static_cast<int>(probes.size()); ++p) {
        if (settings.probes[static_cast<std::size_t>(p)].contact) continue;  // its silence is no fault
        for (auto const* info : watches()) {
            auto watch = info->for_probe ? info->for_probe(settings, p) : nullptr;
            if (watch) probes[static_cast<std::size_t>(p)].watches.push_back({info, std::move(watch)});
        }
    }
}

void Kitchen::Impl::judge(Subject subject, Finding&& finding, std::span<int const> by,
                          std::string_view muted_by) {
    judged.push_back({subject, std::move(finding), by, muted_by});
}

void Kitchen::Impl::changed(Effects& out) {
    out.push_back(MemoryChanged{});
    remembered = now;
    memory_dirty = false;
}

void Kitchen::Impl::begin_run(Effects& out) {
    if (started) return;
    started = true;
    out.push_back(Event{now, "started", {}, settings.name + ": watching has begun.", {}});
}

void Kitchen::Impl::advance(Instant to, Effects& out) {
    begin_run(out);
    while (next_tick <= to) {
        now = next_tick;
        next_tick += second;
        tick(out);
    }
    now = std::max(now, to);
}

// The order within a second: what was measured, what the food is doing, what the vessels are doing, and only
// then what of it is an alarm, so that one second's findings are judged together and a cause mutes its
// effects.
void Kitchen::Impl::tick(Effects& out) {
    judged.clear();
    condition(now, out);
    step_dishes(out);
    step_plans();
    step_probes(out);
    step_vessels(out);
    judge_unwatched();
    auto const while_it_lasts = [&](std::string const& alarm, std::string text) {
        if (text.empty())
            troubles.erase(alarm);
        else
            troubles[alarm] = std::move(text);
    };
    while_it_lasts("out-of-service", desk.what_is_out_of_service());
    while_it_lasts("core-in-two-dishes", shared_cores());
    for (auto const& type : kitchen_alarms()) {
        Finding finding;
        finding.type = &type;
        if (auto const trouble = troubles.find(type.name); trouble != troubles.end()) {
            finding.truth = Truth::present;
            finding.text = trouble->second;
            finding.grade = static_cast<int>(in_trouble[trouble->first].size());
        }
        judge({}, std::move(finding), {});
    }
    judge({}, timers.step(now), {});
    judge({}, reminders.step(now, reminder_facts()), {});
    if (timers.changed()) memory_dirty = true;
    if (reminders.changed()) memory_dirty = true;
    settle_orders();
    desk.step(now, judged, out);
    bool const cooking =
        std::any_of(dishes.begin(), dishes.end(), [](auto const& dish) { return dish.cook.begun(); });
    if (memory_dirty || now - remembered >= (cooking ? memory_every : 10 * memory_every)) changed(out);
}

Kitchen::Kitchen(Settings settings, Instant start)
    : impl_(std::make_unique<Impl>(std::move(settings), start)) {}
Kitchen::~Kitchen() = default;
Kitchen::Kitchen(Kitchen&&) noexcept = default;
Kitchen& Kitchen::operator=(Kitchen&&) noexcept = default;

void Kitchen::take(int probe, Reading const& reading, Effects& out) {
    impl_->advance(std::max(reading.at, impl_->now), out);
    impl_->take(probe, reading, out);
}

void Kitchen::command(Instant at, Command const& command, Effects& out) {
    impl_->advance(std::max(at, impl_->now), out);
    impl_->command(command, out);
}

void Kitchen::advance(Instant now, Effects& out) {
    impl_->advance(std::max(now, impl_->now), out);
}

void Kitchen::stood_still(Instant until, Effects& out) {
    Span const length = until - impl_->now;
    for (auto& conditioner : impl_->conditioners) conditioner.not_asked_until(until);
    impl_->advance(std::max(until, impl_->now), out);
    Event gap{impl_->now, "gap", {}, "", {{"length_s", seconds(length)}}};
    gap.text = "nothing was watched for " + show(Duration{std::round(seconds(length))}) +
               ": the program or the computer stood still.";
    out.push_back(std::move(gap));
}

Settings Kitchen::as_filed() const {
    auto settings = impl_->settings;
    for (std::size_t d = 0; d < settings.dishes.size(); ++d)
        settings.dishes[d].serve_at = impl_->filed_serve_at[d];
    return settings;
}

Settings const& Kitchen::settings() const {
    return impl_->settings;
}

}  // namespace ingle
