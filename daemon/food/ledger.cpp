#include "daemon/food/ledger.hpp"

#include <algorithm>
#include <cmath>

#include "daemon/food/ledger_impl.hpp"
#include "daemon/model/as_recorded.hpp"

namespace ingle {
namespace {

// Perishable until told otherwise: what is not named gets every limit that needs no class.
constexpr FoodClass not_said{.name = "", .means = "a food whose class was not said"};
// The USDA halves its time in the danger zone above 90 degF; hotter than this, it is no room.
constexpr double hot_room_c = from_fahrenheit(90), not_a_room_c = 60;

}  // namespace

FoodLedger::Impl::Impl(LedgerSettings given, Instant at)
    : settings(std::move(given)),
      begun(at),
      medium_hot(Holding::Side::hot, hot_hold_limits().front().celsius()),
      medium_cold(Holding::Side::cold, cold_hold_limits().front().celsius()) {
    auto const* known = food_class(settings.dish.food);
    food_known = known != nullptr;
    as_prepared = known ? prepared(*known, settings.dish.preparation) : not_said;
    food = &as_prepared;
    rule =
        cooling_rule(settings.dish.cooling_rule.empty() ? settings.cooling_rule : settings.dish.cooling_rule);
    if (!rule) rule = &cooling_rules().front();
    if (rule->needs_cure && !food->cured) {
        refused_rule = rule;
        rule = &cooling_rules().front();
    }
    auto const count = (settings.dish.core >= 0 ? 1u : 0u) + settings.dish.more_cores.size();
    for (std::size_t i = 0; i < count; ++i) {
        cores.emplace_back(*food, *rule);
        evidence.emplace_back(settings.dish.thickness, food_known ? food : nullptr, settings.boiling_c,
                              settings.dish.shape);
    }
    refused.resize(count);
    changes.resize(count);
    stands.resize(count);
    certain_phase.assign(count, phase);
    hazard_watch = HazardWatch(count);
}

StepContext FoodLedger::Impl::context() const {
    StepContext context{std::max(seconds(settings.longest_step), 1.0),
                        fastest_core(settings.dish.thickness, phase), phase, stage_target_c};
    context.cooked_before = food->cooked_before;
    bool const waits = phase == FoodPhase::waiting || phase == FoodPhase::resting;
    context.hot_room = waits && fresh_medium() && *medium_c > hot_room_c && *medium_c < not_a_room_c;
    return context;
}

std::optional<double> FoodLedger::Impl::around(double t) const {
    if (is_the_liquid) return std::nullopt;
    double const lasts_s = std::max(longest_medium_s(), 300.0);
    if (medium_c && medium_t < t) return t - medium_t <= lasts_s ? medium_c : std::nullopt;
    if (!medium_before || t - medium_before->first > lasts_s) return std::nullopt;
    return medium_before->second;
}

CoreTrack const* FoodLedger::Impl::deciding() const {
    bool const coldest = (heats_core(phase) && phase != FoodPhase::thawing) || phase == FoodPhase::resting;
    CoreTrack const* found = nullptr;
    for (auto const& core : cores)
        if (core.seen() && (!found || (core.last_c() < found->last_c()) == coldest)) found = &core;
    return found;
}

bool FoodLedger::Impl::unread_core() const {
    return std::ranges::any_of(cores, [](auto const& core) { return !core.seen(); });
}

FoodLedger::FoodLedger(LedgerSettings settings, Instant begun)
    : impl_(std::make_unique<Impl>(std::move(settings), begun)) {}
FoodLedger::~FoodLedger() = default;
FoodLedger::FoodLedger(FoodLedger&&) noexcept = default;
FoodLedger& FoodLedger::operator=(FoodLedger&&) noexcept = default;

void FoodLedger::take(Instant at, int core, double celsius, Quality quality) {
    auto& in = *impl_;
    in.reach_time(at);
    if (quality == Quality::rejected || quality == Quality::faulty) return;
    if (core < 0 || static_cast<std::size_t>(core) >= in.cores.size() || in.since(at) < 0) return;
    auto const place = static_cast<std::size_t>(core);
    in.hazard_watch.read(in.since(at), in.is_kept_cold());
    auto& judge = in.evidence[place];
    judge.take(in.since(at), as_recorded(celsius), quality == Quality::doubtful,
               in.phase_at(place, in.since(at)), in.around(in.since(at)));
    in.settle(place);
    auto& refused = in.refused[place];
    double const t = in.since(at);
    if (refused.heard && t - *refused.heard > in.cores[place].longest_s(in.context())) refused.skip(t);
    refused.newest = refused.heard = t;
    refused.celsius = as_recorded(celsius);
    if (judge.doubt() == CoreDoubt::none)
        refused.since.reset();
    else if (!refused.since)
        refused.since = t;
}

std::optional<CoreEvidence::Present> FoodLedger::present(int core) const {
    auto const& in = *impl_;
    if (core < 0 || static_cast<std::size_t>(core) >= in.evidence.size()) return std::nullopt;
    auto const place = static_cast<std::size_t>(core);
    if (in.cores[place].blind(in.now, in.context())) return std::nullopt;
    return in.evidence[place].present();
}

CoreDoubt FoodLedger::doubt(int core) const {
    auto const place = static_cast<std::size_t>(core);
    return core < 0 || place >= impl_->evidence.size() ? CoreDoubt::unsettled
                                                       : impl_->evidence[place].doubt();
}

std::int64_t FoodLedger::withdrawn() const {
    return impl_->withdrawn;
}

void FoodLedger::on_judged(std::function<void(int core, JudgedReading const&)> tell) {
    impl_->tell = std::move(tell);
}

void FoodLedger::medium(Instant at, double celsius, Quality quality) {
    auto& in = *impl_;
    in.reach_time(at);
    celsius = as_recorded(celsius);
    if (quality == Quality::rejected || quality == Quality::faulty) return;
    double const t = std::max(in.since(at), in.medium_t);
    if (t > in.medium_t) {
        if (in.medium_c) in.medium_before = {in.medium_t, *in.medium_c};
        bool const first = !in.medium_c;
        Step step{in.medium_t, in.medium_c.value_or(celsius), t, celsius,
                  t - in.medium_t > in.longest_medium_s()};
        step.from_unknown = first;
        if (first)
            step.gap = step.gap && first;
        else
            in.medium_cadence.add(t - in.medium_t);
        step.fastest = 1;  // air follows an open door at once
        auto const& zone = danger_zones().front();
        if (!is_heated(in.phase)) in.air_in_zone_s += seconds_between(step, zone.low_c(), zone.high_c());
        if (!first || step.gap) {
            in.medium_hot.add(step);
            in.medium_cold.add(step);
        }
    }
    in.medium_c = celsius;
    in.medium_t = t;
    in.medium_mean.add(t, celsius);
    in.hazard_watch.medium(celsius);
    in.hazard_watch.read(t, in.is_kept_cold());
}

void FoodLedger::gap_of_unknown_length(Instant now) {
    advance(now, now);
    for (auto& one : impl_->evidence) one.restart();
    for (auto& core : impl_->cores) core.lose_track();
    for (auto& refused : impl_->refused) refused.skip(impl_->now);
    impl_->hazard_watch.lose_track(impl_->is_kept_cold());
    impl_->hot_unmeasured = impl_->hot_unmeasured || impl_->medium_hot.held();
    impl_->cold_unmeasured = impl_->cold_unmeasured || impl_->medium_cold.held();
}

void FoodLedger::gaps_are_measured() {
    impl_->hazard_watch.gaps_are_measured();
    impl_->hot_unmeasured = impl_->cold_unmeasured = false;
}

void FoodLedger::stage(Instant at, FoodPhase phase, std::optional<double> core_target_c,
                       std::optional<double> core_limit_c) {
    auto& in = *impl_;
    in.reach_time(at);
    in.stage_target_c = core_target_c;
    in.core_limit_c = core_limit_c;
    if (in.phase_told && phase == in.phase) return;
    in.phase = phase;
    in.medium_mean.clear();
    in.phase_since = in.since(at);
    in.phase_told = true;
    for (auto& to_come : in.changes) to_come.push_back({in.since(at), phase});
    if (phase == FoodPhase::brining) in.hazard_watch.brine();
    if (phase == FoodPhase::hot_holding)
        in.medium_hot.begin(in.since(at), in.medium_c);
    else
        in.medium_hot.stop();
    if (is_held_cold(phase))
        in.medium_cold.begin(in.since(at), in.medium_c);
    else
        in.medium_cold.stop();
}

void FoodLedger::put_in(VesselKind where) {
    impl_->hazard_watch.put_in(where);
    impl_->is_the_liquid = impl_->food_known && impl_->food->mixes() && where == VesselKind::pot;
}

void FoodLedger::advance(Instant now, Instant heard) {
    auto& in = *impl_;
    in.reach_time(now);
    double const until = std::min(in.now, in.since(heard));
    for (std::size_t i = 0; i < in.cores.size(); ++i) {
        in.evidence[i].advance(until);
        in.settle(i);
        in.reach(i, until - CoreEvidence::hold_s);
    }
}

std::vector<Verdict> FoodLedger::verdicts() const {
    auto const& in = *impl_;
    std::vector<Verdict> all{in.core_target(), in.lethality(), in.danger(), in.cooling()};
    for (auto& more :
         {in.reheating(), in.growth(), in.holding(true), in.holding(false), in.cold_day(), in.trichinella()})
        if (more) all.push_back(*more);
    for (auto& row : in.hazard_rows()) all.push_back(std::move(row));
    if (!in.food->caution.empty()) all.front().text += " " + std::string(in.food->caution);
    all.insert(all.begin(), in.in_short(all));
    return all;
}

std::vector<FoodConcern> FoodLedger::concerns() const {
    auto const& in = *impl_;
    return {in.danger_concern(), in.cooling_concern(), in.hot_concern(),
            in.cold_concern(),   in.reheat_concern(),  in.overshoot_concern(),
            in.target_concern(), in.unread_concern(),  in.discard_concern()};
}

FoodSummary FoodLedger::summary() const {
    auto const& in = *impl_;
    FoodSummary sum;
    for (auto const& core : in.cores) {
        if (core.seen()) sum.peak_core_c = std::min(sum.peak_core_c.value_or(1e9), core.peak_c());
        sum.danger_s = std::max(sum.danger_s, core.danger_measured_s(in.now, in.context()));
        sum.danger_possible_s = std::max(sum.danger_possible_s, core.danger_possible_s(in.now, in.context()));
        sum.gap_s = std::max(sum.gap_s, core.gap_s(in.now, in.context()));
    }
    if (in.cores.empty()) sum.danger_possible_s = sum.gap_s = in.now;
    if (auto const* core = in.deciding()) sum.core_c = core->last_c();
    sum.lethality_log10 = lethality_log10();
    sum.lethality_source = in.food->lethality_source;
    sum.lethality_caution = in.food->lethality_caution;
    sum.cooling = in.cooling_answer();
    if (auto const* core = in.slowest_to_cool(); core && core->cooling.running())
        sum.cooling_started_s = in.now - core->cooling.start_latest_s();
    if (in.stage_target_c)
        sum.target_c = in.stage_target_c;
    else if (auto const* asked = in.target())
        sum.target_c = asked->celsius();
    sum.target_met = in.target_met();
    return sum;
}

void FoodLedger::remember(Memory& memory, std::string const& prefix) const {
    auto const& in = *impl_;
    memory.put(prefix + "begun", in.begun);
    auto visit = FieldVisitor::writing();
    auto copy = in.cores;
    for (auto& core : copy) core.fields(visit);
    memory.put(prefix + "cores", visit.text());
    auto judges = FieldVisitor::writing();
    auto evidence = in.evidence;
    for (auto& one : evidence) one.fields(judges);
    memory.put(prefix + "evidence", judges.text());
    auto seen = FieldVisitor::writing();
    HazardWatch(in.hazard_watch).fields(seen);
    memory.put(prefix + "hazards", seen.text());
    auto medium = FieldVisitor::writing();
    auto hot = in.medium_hot, cold = in.medium_cold;
    hot.fields(medium);
    cold.fields(medium);
    auto cadence = in.medium_cadence;
    cadence.fields(medium);
    double in_zone = in.air_in_zone_s;
    medium.number(in_zone);
    memory.put(prefix + "medium", medium.text());
    if (in.hot_unmeasured) memory.put(prefix + "hot-unmeasured", std::int64_t{1});
    if (in.cold_unmeasured) memory.put(prefix + "cold-unmeasured", std::int64_t{1});
    if (in.medium_c) {
        memory.put(prefix + "medium-c", *in.medium_c);
        memory.put(prefix + "medium-t", in.medium_t);
    }
    for (std::size_t i = 0; i < in.refused.size(); ++i)
        if (in.refused[i].since) memory.put(prefix + "refused." + std::to_string(i), *in.refused[i].since);
    memory.put(prefix + "now", in.now);
    memory.put(prefix + "phase", static_cast<std::int64_t>(in.phase));
    memory.put(prefix + "phase-since", in.phase_since);
    memory.put(prefix + "is-the-liquid", in.is_the_liquid ? 1.0 : 0.0);
    memory.put(prefix + "withdrawn", in.withdrawn);
    bool const to_come = std::ranges::any_of(in.changes, [](auto const& one) { return !one.empty(); });
    memory.put(prefix + "phase-to-come", to_come ? 1.0 : 0.0);
    if (in.stage_target_c) memory.put(prefix + "target", *in.stage_target_c);
    if (in.core_limit_c) memory.put(prefix + "limit", *in.core_limit_c);
}

void FoodLedger::recall(Memory const& memory, std::string const& prefix) {
    auto& in = *impl_;
    auto const cores = memory.text(prefix + "cores");
    auto const begun = memory.instant(prefix + "begun");
    if (!cores || !begun) return;
    in.begun = *begun;
    auto visit = FieldVisitor::reading(*cores);
    auto read = in.cores;
    for (auto& core : read) core.fields(visit);
    // A text that is damaged or of another version is no text: the dish goes on as one that was never read
    // since it was begun, so that all of it is unknown, rather than with half of its sums or a wrong one.
    bool const refused = visit.broken();
    if (!refused) in.cores = std::move(read);
    if (auto const text = memory.text(prefix + "evidence")) {
        auto judges = FieldVisitor::reading(*text);
        auto evidence = in.evidence;
        for (auto& one : evidence) one.fields(judges);
        if (!judges.broken()) in.evidence = std::move(evidence);
    }
    if (auto const medium = memory.text(prefix + "medium")) {
        auto reading = FieldVisitor::reading(*medium);
        auto hot = in.medium_hot, cold = in.medium_cold;
        hot.fields(reading);
        cold.fields(reading);
        auto cadence = in.medium_cadence;
        cadence.fields(reading);
        double in_zone = 0;
        reading.number(in_zone);
        if (!reading.broken()) {
            in.air_in_zone_s = in_zone;
            in.medium_cadence = cadence;
            in.medium_hot = hot;
            in.medium_cold = cold;
        }
    }
    in.hot_unmeasured = memory.integer(prefix + "hot-unmeasured").value_or(0) != 0;
    in.cold_unmeasured = memory.integer(prefix + "cold-unmeasured").value_or(0) != 0;
    in.medium_c = memory.number(prefix + "medium-c");
    in.medium_t = memory.number(prefix + "medium-t").value_or(0);
    in.medium_before.reset();
    in.now = memory.number(prefix + "now").value_or(0);
    for (std::size_t i = 0; i < in.refused.size(); ++i) {
        in.refused[i].since = memory.number(prefix + "refused." + std::to_string(i));
        in.refused[i].heard = in.now;
    }
    auto const hazards = memory.text(prefix + "hazards");
    in.recall_hazards(hazards);
    auto const phase = memory.integer(prefix + "phase").value_or(0);
    if (phase >= 0 && phase <= static_cast<int>(FoodPhase::reheating))
        in.phase = static_cast<FoodPhase>(phase);
    in.phase_since = memory.number(prefix + "phase-since").value_or(0);
    in.is_the_liquid = memory.number(prefix + "is-the-liquid").value_or(0) != 0;
    in.withdrawn = memory.integer(prefix + "withdrawn").value_or(0);
    in.phase_told = true;
    in.certain_phase.assign(in.cores.size(), in.phase);
    if (memory.number(prefix + "phase-to-come").value_or(0) != 0)
        for (auto& to_come : in.changes) to_come.push_back({in.phase_since, in.phase});
    if (refused)
        for (auto& core : in.cores) core.phase(in.phase_since, in.phase);
    in.stage_target_c = memory.number(prefix + "target");
    in.core_limit_c = memory.number(prefix + "limit");
}

}  // namespace ingle
