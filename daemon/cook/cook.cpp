#include "daemon/cook/cook.hpp"

#include <algorithm>
#include <utility>

#include "daemon/watches/words.hpp"

namespace ingle {
namespace {

// A pinched cable or a wet plug shows the target for a moment; food does not.
constexpr Span agreement = std::chrono::seconds(30);
constexpr Span forecast_every = std::chrono::minutes(1);
constexpr double disagree_k = 8;  // two tips this far apart in one dish: one of them is not in the middle
// How long a reached target stays told although a next stage without a target follows.
constexpr Span told_for = std::chrono::minutes(10);

enum {
    core_target,
    stage_overdue,
    core_stalled,
    core_unreachable,
    late,
    stage_over,
    dish_ready,
    core_withdrawn,
    plan_not_taken_up
};
constexpr AlarmType types[] = {
    {.name = "core-target", .priority = Priority::low, .good_news = true, .judges_food = true},
    {.name = "stage-overdue",
     .priority = Priority::medium,
     .over = "is no longer over the time of its stage"},
    {.name = "core-stalled",
     .priority = Priority::low,
     .on_delay = std::chrono::minutes(20),
     .off_delay = std::chrono::minutes(10),
     .over = "no longer stands still in its core"},
    {.name = "core-unreachable",
     .priority = Priority::medium,
     .on_delay = std::chrono::minutes(15),
     .off_delay = std::chrono::minutes(5),
     .over = "can reach its target again"},
    {.name = "late-for-serving",
     .priority = Priority::medium,
     .on_delay = std::chrono::minutes(5),
     .off_delay = std::chrono::minutes(10),
     .over = "is no longer late for its serving"},
    // Asked for by the plan, as a timer is by the cook: food that waits to be moved, or that is done and
    // stands warm, does not wait for the end of a channel's quiet hours. A stage that goes on by itself does.
    {.name = "stage-over", .priority = Priority::medium, .prompt = true, .asked_for = true},
    {.name = "dish-ready", .priority = Priority::medium, .prompt = true, .asked_for = true},
    {.name = "core-withdrawn", .priority = Priority::high, .judges_food = true, .prompt = true},
    {.name = "plan-not-taken-up",
     .priority = Priority::low,
     .over = "no longer cooks by a plan from before the change"}};

}  // namespace

std::span<AlarmType const> cook_alarms() {
    return types;
}

Cook::Cook(Settings const& settings, int dish)
    : dish_(settings.dishes[static_cast<std::size_t>(dish)]),
      subject_{SubjectKind::dish, dish},
      unit_(settings.units) {
    if (dish_.core >= 0) probes_.push_back(dish_.core);
    probes_.insert(probes_.end(), dish_.more_cores.begin(), dish_.more_cores.end());
    for (auto const& probe : settings.probes) probe_names_.push_back(probe.name);
    for (auto const& vessel : settings.vessels) {
        vessel_names_.push_back(vessel.name);
        vessel_kinds_.push_back(vessel.kind);
    }
    auto const plan = std::ranges::find(settings.plans, dish_.plan, &PlanSettings::name);
    if (plan != settings.plans.end() && !dish_.plan.empty()) file_plan_ = *plan;
    use(file_plan_);
}

Event Cook::event(Instant at, std::string name, std::string text) const {
    return {at, std::move(name), subject_, std::move(text), {{"cook", static_cast<double>(number_)}}};
}

StageSettings const* Cook::stage() const {
    return begun_ && !waits_ && stage_ < stages_.size() ? &stages_[stage_] : nullptr;
}

std::string_view Cook::stage_name() const {
    if (!begun_) return "";
    return stage_ < stages_.size() ? std::string_view(stages_[stage_].name) : "done";
}

int Cook::vessel() const {
    if (!begun_) return dish_.vessel;
    return stages_[std::min(stage_, stages_.size() - 1)].vessel;
}

FoodPhase Cook::phase() const {
    int const number = vessel();
    auto const where =
        number < 0 ? std::nullopt : std::optional(vessel_kinds_[static_cast<std::size_t>(number)]);
    if (!begun_ || stage_ >= stages_.size()) return food_phase({}, where);
    return food_phase(stages_[stage_].does, where, stages_[stage_].until.core);
}

// The dish is judged by its worst core: the coldest on the way up, the warmest on the way down.
void Cook::read_cores(CookSituation const& now, CookOutput& out) {
    core_.reset();
    if (!plan_has_target_ && !target_ && !probes_.empty()) target_ = now.class_target;
    if (now.withdrawn > withdrawn_) {
        withdrawn_ = now.withdrawn;
        forget_core(now.now, out);
    }
    bool const up = heats_core(phase());
    std::optional<std::size_t> cold, warm;
    bool doubtful = false;
    auto const newest = [&](std::size_t place) { return now.cores[place]->newest_c; };
    for (std::size_t i = 0; i < now.cores.size(); ++i) {
        if (!now.cores[i]) continue;
        doubtful = doubtful || now.cores[i]->doubtful;
        if (!cold || newest(i) < newest(*cold)) cold = i;
        if (!warm || newest(i) > newest(*warm)) warm = i;
    }
    if (!cold) return there_since_.reset();
    auto const& deciding = *now.cores[up ? *cold : *warm];
    core_ = deciding.newest_c;
    std::int64_t places = 0;
    for (auto const& one : now.cores) places += one ? one->places : 0;
    if (places > places_) {  // what was read before was not the centre
        places_ = places;
        forget_core(now.now, out);
    }
    double const certain = now.cores[*cold]->certain_c;
    if (!doubtful && (!peak_ || certain > *peak_)) peak_ = certain;
    make_good(now.now, doubtful || !heats_core(phase()) ? -300 : now.cores[*cold]->lowest_c);
    coldest_seen_ = std::min(coldest_seen_.value_or(deciding.certain_c), deciding.certain_c);
    warmest_seen_ = std::max(warmest_seen_.value_or(deciding.certain_c), deciding.certain_c);
    if (target_) {
        bool const there = up ? deciding.lowest_c >= *target_ : deciding.highest_c <= *target_;
        if (!there || doubtful || !came_from_this_side())
            there_since_.reset();
        else if (!there_since_)
            there_since_ = deciding.certain_t;
        there_for_ = there_since_ ? from_seconds(deciding.newest_t - *there_since_) : Span(0);
        tell_disagreement(now.now, newest(*cold), newest(*warm), probes_[*cold], probes_[*warm], there, out);
    }
    auto const medium = now.medium && now.medium->fresh ? std::optional(now.medium->level) : std::nullopt;
    core_forecast_.add(now.now, *core_, medium);
}

void Cook::forget_core(Instant at, CookOutput& out) {
    peak_ = coldest_seen_ = warmest_seen_ = std::nullopt;
    there_since_.reset();
    core_forecast_.moved();
    if (!reached_) return;
    reached_.reset();
    out.core_withdrawn = true;
    Words const words(unit_);
    withdrawn_text_ = dish_.name + ": that the core has reached " + words.at(reached_target_) +
                      " is taken back: what the tip showed until now was not the middle of the food.";
    if (reached_stage_ < stages_.size() && (reached_stage_ < stage_ || waits_)) {
        auto const& s = stages_[reached_stage_];
        withdrawn_text_ += " " + s.name + " ended by it, and may have ended too early.";
        if (s.until.core)
            undone_.push_back({s.name,
                               s.name + " ended by a tip that was not in the middle of the food, and " +
                                   words.at(s.until.core->celsius) + " was asked",
                               s.until.core->celsius});
    }
    withdrawn_text_ += " Measure the core now.";
    ++withdrawals_;
    out.events.push_back(event(at, "note", withdrawn_text_));
}

bool Cook::came_from_this_side() const {
    return heats_core(phase()) ? *coldest_seen_ < *target_ : *warmest_seen_ > *target_;
}

void Cook::tell_disagreement(Instant at, double coldest, double warmest, int cold, int warm, bool there,
                             CookOutput& out) {
    Words const words(unit_);
    disagreement_ = cold == warm || warmest - coldest < disagree_k
                        ? ""
                        : " " + probe_names_[static_cast<std::size_t>(warm)] + " reads " + words.at(warmest) +
                              " and " + probe_names_[static_cast<std::size_t>(cold)] + " " +
                              words.at(coldest) + ": one of them may touch bone, fat or metal.";
    bool const one_is_there = heats_core(phase()) ? warmest >= *target_ : coldest <= *target_;
    if (!one_is_there || there || disagreement_.empty() || told_disagreement_) return;
    told_disagreement_ = true;
    out.events.push_back(event(at, "note", dish_.name + " is not done by its worst core." + disagreement_));
}

bool Cook::stage_is_over(CookSituation const& now) {
    if (target_ && !reached_ && there_since_ && there_for_ >= agreement) {
        reached_ = now.now;
        reached_stage_ = stage_;
        reached_target_ = *target_;
        reached_text_ =
            dish_.name + ": the core has reached " + Words(unit_).at(*target_) + "." + disagreement_;
    }
    auto const* s = stage();
    if (!s || s->until.none()) return false;
    Span const elapsed = now.now - stage_began_;
    if (s->at_least && elapsed < from_seconds(s->at_least->seconds)) return false;
    if (s->until.core && !(reached_ && *reached_ >= stage_began_)) return false;
    if (s->until.time && time_.counted() < from_seconds(s->until.time->seconds)) return false;
    if (s->until.lethality && !(now.lethality && *now.lethality >= *s->until.lethality)) return false;
    return true;
}

void Cook::step(CookSituation const& now, CookOutput& out) {
    if (begun_) {
        read_cores(now, out);
        if (waits_ && has_left(now)) {
            auto const& from = vessel_names_[static_cast<std::size_t>(vessel())];
            out.events.push_back(event(now.now, "note",
                                       dish_.name + ": its core goes another way than " + from +
                                           " would take it, as if it were not in " + from +
                                           " any more: " + stages_[stage_ + 1].name + " counts as begun."));
            over_text_.clear();
            begin_waiting_stage(now.now, out);
        }
        if (stage()) time_.step(now.now, now.band);
        if (stage_is_over(now)) finish_stage(now.now, out);
        foretell(now, out);
    }
    auto const late_now = lateness(now);
    late_ = late_now != Truth::absent;
    judge(now, late_now, out);
}

void Cook::judge(CookSituation const& now, Truth lateness, CookOutput& out) const {
    Finding f[std::size(types)];
    for (std::size_t i = 0; i < std::size(types); ++i) f[i].type = &types[i];
    // The class's own target is the food ledger's to tell, with its holding time and its source.
    if (begun_ && plan_has_target_ && reached_ &&
        (stage_began_ <= *reached_ || now.now - *reached_ < told_for)) {
        f[core_target].truth = Truth::present;
        f[core_target].value = reached_target_;
        f[core_target].text = reached_text_;
    }
    auto const* s = stage();
    Span const elapsed = now.now - stage_began_;
    if (s && s->at_most && elapsed > from_seconds(s->at_most->seconds)) {
        f[stage_overdue].truth = Truth::present;
        f[stage_overdue].value = seconds(elapsed);
        f[stage_overdue].text = dish_.name + ": " + s->name + " has run " + Words::in(elapsed) +
                                ", longer than its limit of " + show(*s->at_most) + ".";
    }
    if (s && target_ && !reached_ && core_) {
        Words const words(unit_);
        if (outlook_.stalled) {
            f[core_stalled].truth = Truth::present;
            f[core_stalled].text = dish_.name + ": the core has levelled off at " + words.at(*core_) +
                                   ". Probably evaporation carries the heat away: that is usual and passes, "
                                   "and more heat is not called for, as long as " +
                                   place_words() + " is as warm as before.";
        }
        if (outlook_.unreachable) {
            f[core_unreachable].truth = Truth::present;
            f[core_unreachable].text = dish_.name + ": with " + place_words() +
                                       " as it is the core does not come to " + words.at(*target_) +
                                       "; it is at " + words.at(*core_) + level_words(words) + ".";
        }
        f[core_stalled].value = f[core_unreachable].value = *core_;
    }
    f[late] = late_for_serving(now, lateness);
    f[late].type = &types[late];
    f[stage_over].grade = rang_;
    f[stage_over].can_wait = over_can_wait_;
    f[dish_ready].grade = 1;
    if (begun_ && !over_text_.empty()) f[stage_over].truth = Truth::present;
    if (begun_ && !ready_text_.empty()) f[dish_ready].truth = Truth::present;
    f[core_withdrawn].grade = withdrawals_;
    if (begun_ && withdrawals_ > 0) f[core_withdrawn].truth = Truth::present;
    f[core_withdrawn].text = withdrawn_text_;
    f[stage_over].text = over_text_;
    f[dish_ready].text = ready_text_;
    if (begun_ && !plan_note_.empty()) f[plan_not_taken_up].truth = Truth::present;
    f[plan_not_taken_up].text = plan_note_;
    for (auto& finding : f) out.findings.push_back(std::move(finding));
}

std::string Cook::level_words(Words const& words) const {
    if (!outlook_.levels_c) return "";
    bool const up = heats_core(phase());
    return " and would level off near " + words.at(*outlook_.levels_c) + ". What is around it must be " +
           (up ? "above " : "below ") + words.at(*target_);
}

// What the cook entered of the dish, for its forecast.
std::string Cook::place_words() const {
    int const number = vessel();
    return number < 0 ? "what is around it" : vessel_names_[static_cast<std::size_t>(number)];
}

DishEntries Cook::entries() const {
    DishEntries entries;
    entries.shape = dish_.shape;
    if (dish_.thickness) entries.thickness_m = dish_.thickness->metres;
    if (dish_.mass) entries.mass_kg = dish_.mass->kilograms;
    if (auto const* food = food_class(dish_.food)) {
        entries.liquid = food->mixes();
        entries.hollow = food->hollow;
    }
    int const number = vessel();
    entries.surroundings =
        number < 0 ? Surroundings::cold : surroundings_of(vessel_kinds_[static_cast<std::size_t>(number)]);
    return entries;
}

// Kept as told: the first, one that begins or ends, and others as the time of the cook grows, so that a long
// cook does not keep thousands.
bool Cook::is_kept(Instant now) {
    constexpr double grows = 0.03;
    double const followed = seconds(now - core_forecast_.first());
    bool const due = !kept_ || seconds(now - *kept_) >= grows * followed;
    if (!due && outlook_.eta_s.has_value() == kept_estimate_) return false;
    kept_ = now;
    kept_estimate_ = outlook_.eta_s.has_value();
    return true;
}

void Cook::tell_arrival(Instant now, CookOutput& out) {
    Forecast forecast;
    forecast.at = now;
    forecast.what = "core-target";
    forecast.subject = subject_;
    forecast.eta_s = forecast.low_s = forecast.high_s = forecast.low_half_s = forecast.high_half_s = 0;
    forecast.why = "the core is there";
    forecast.kept = true;
    out.forecast = std::move(forecast);
}

void Cook::foretell(CookSituation const& now, CookOutput& out) {
    if (!target_ || reached_) {
        outlook_ = {};
        if (reached_ == now.now) tell_arrival(now.now, out);
        return;
    }
    // At once where the core is read again after a restart or a hole.
    bool const read_again = !std::exchange(foretold_by_core_, core_.has_value()) && core_;
    if (!read_again && foretold_ && now.now - *foretold_ < forecast_every) return;
    foretold_ = now.now;
    outlook_ = core_forecast_.to(*target_, heats_core(phase()), now.now);
    Forecast forecast;
    forecast.at = now.now;
    forecast.what = "core-target";
    forecast.subject = subject_;
    forecast.eta_s = outlook_.eta_s;
    forecast.low_s = outlook_.low_s;
    forecast.high_s = outlook_.high_s;
    forecast.low_half_s = outlook_.low_half_s;
    forecast.high_half_s = outlook_.high_half_s;
    forecast.why = outlook_.why;
    forecast.kept = is_kept(now.now);
    out.forecast = std::move(forecast);
}

}  // namespace ingle
