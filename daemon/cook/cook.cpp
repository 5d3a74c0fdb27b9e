#include "daemon/cook/cook.hpp"

#include <algorithm>

#include "daemon/watches/words.hpp"

namespace ingle {
namespace {

// A pinched cable or a wet plug shows the target for a moment; food does not.
constexpr Span agreement = std::chrono::seconds(30);
constexpr Span forecast_every = std::chrono::minutes(1);
constexpr double disagree_k = 8;  // two tips this far apart in one dish: one of them is not in the middle
// How long a reached target stays told although a next stage without a target follows.
constexpr Span told_for = std::chrono::minutes(10);

enum { core_target, stage_overdue, core_stalled, core_unreachable };
constexpr AlarmType types[] = {{.name = "core-target", .priority = Priority::low, .good_news = true},
                               {.name = "stage-overdue", .priority = Priority::medium},
                               {.name = "core-stalled",
                                .priority = Priority::low,
                                .on_delay = std::chrono::minutes(20),
                                .off_delay = std::chrono::minutes(10)},
                               {.name = "core-unreachable",
                                .priority = Priority::medium,
                                .on_delay = std::chrono::minutes(15),
                                .off_delay = std::chrono::minutes(5)}};

std::string until_words(Until const& until, Words const& words) {
    std::string text;
    auto const add = [&](std::string part) {
        text += (text.empty() ? ", until " : " and ") + std::move(part);
    };
    if (until.core) add(words.at(until.core->celsius) + " in the core");
    if (until.time) add(show(*until.time) + " have passed");
    if (until.lethality) add("the lethality asked for is reached");
    return text;
}

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
    use(plan == settings.plans.end() || dish_.plan.empty() ? PlanSettings{} : *plan);
}

Event Cook::event(Instant at, std::string name, std::string text) const {
    return {at, std::move(name), subject_, std::move(text), {{"cook", static_cast<double>(number_)}}};
}

StageSettings const* Cook::stage() const {
    return begun_ && stage_ < stages_.size() ? &stages_[stage_] : nullptr;
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
    auto const* s = stage();
    return s ? food_phase(s->does, where, s->until.core) : food_phase({}, where);
}

std::string Cook::begin(Instant at, std::int64_t number, CookOutput& out) {
    if (begun_) return dish_.name + " has already begun: end it first";
    begun_ = true;
    number_ = number;
    began_ = at;
    stage_ = 0;
    core_ = peak_ = coldest_seen_ = warmest_seen_ = std::nullopt;
    places_ = 0;
    reached_.reset();
    open_stage(at, out);
    return "";
}

std::string Cook::next(Instant at, CookOutput& out) {
    if (!begun_) return dish_.name + " has not begun";
    if (!stage()) return dish_.name + " has no further stage: its plan is done";
    close_stage(at, "told to go on", out);
    return "";
}

std::string Cook::end(Instant at, CookOutput& out) {
    if (!begun_) return dish_.name + " has not begun";
    if (stage()) close_stage(at, "the cook was ended", out, stages_.size());
    begun_ = false;
    target_.reset();
    reached_.reset();
    out.stage_changed = true;
    return "";
}

void Cook::open_stage(Instant at, CookOutput& out) {
    stage_began_ = at;
    out.stage_changed = true;
    there_since_.reset();
    told_disagreement_ = false;
    estimate_.clear();
    foretold_.reset();
    outlook_ = {};
    auto const* s = stage();
    target_.reset();
    if (!s) return;
    if (s->until.core) {
        target_ = s->until.core->celsius;
        reached_.reset();
    }
    Words const words(unit_);
    auto const where =
        s->vessel >= 0 ? " in " + vessel_names_[static_cast<std::size_t>(s->vessel)] : std::string();
    auto e =
        event(at, "stage-began", dish_.name + ": " + s->name + where + until_words(s->until, words) + ".");
    // What was planned, so that a review needs no plan file, which may have been edited since.
    auto const add = [&](char const* key, std::optional<double> value) {
        if (value) e.numbers.emplace_back(key, *value);
    };
    auto const in_seconds = [](std::optional<Duration> const& d) {
        return d ? std::optional(d->seconds) : std::nullopt;
    };
    auto const in_celsius = [](std::optional<Temperature> const& t) {
        return t ? std::optional(t->celsius) : std::nullopt;
    };
    add("stage", static_cast<double>(stage_ + 1));
    if (s->does) add("does", static_cast<double>(*s->does));
    if (s->vessel >= 0) add("vessel", s->vessel);
    if (s->band) add("low_c", s->band->low.celsius), add("high_c", s->band->high.celsius);
    add("until_core_c", in_celsius(s->until.core));
    add("until_s", in_seconds(s->until.time));
    add("until_log10", s->until.lethality);
    add("at_least_s", in_seconds(s->at_least));
    add("at_most_s", in_seconds(s->at_most));
    add("core_most_c", in_celsius(s->core_most));
    out.events.push_back(std::move(e));
}

void Cook::close_stage(Instant at, std::string_view why, CookOutput& out, std::optional<std::size_t> next) {
    auto e = event(at, "stage-ended",
                   dish_.name + ": " + stages_[stage_].name + " ended after " + Words::in(at - stage_began_) +
                       ", " + std::string(why) + ".");
    e.numbers.emplace_back("stage", static_cast<double>(stage_ + 1));
    e.numbers.emplace_back("length_s", seconds(at - stage_began_));
    if (peak_) e.numbers.emplace_back("peak_c", *peak_);
    out.events.push_back(std::move(e));
    stage_ = next.value_or(stage_ + 1);
    open_stage(at, out);
}

// The dish is judged by its worst core: the coldest on the way up, the warmest on the way down.
void Cook::read_cores(CookSituation const& now, CookOutput& out) {
    core_.reset();
    if (!plan_has_target_ && !target_) target_ = now.class_target;
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
        peak_ = coldest_seen_ = warmest_seen_ = std::nullopt;
        estimate_.clear();
    }
    double const certain = now.cores[*cold]->certain_c;
    if (!doubtful && (!peak_ || certain > *peak_)) peak_ = certain;
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
    estimate_.add(now.now, *core_, medium);
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
        reached_target_ = *target_;
        reached_text_ =
            dish_.name + ": the core has reached " + Words(unit_).at(*target_) + "." + disagreement_;
    }
    auto const* s = stage();
    if (!s || s->until.none()) return false;
    Span const elapsed = now.now - stage_began_;
    if (s->at_least && elapsed < from_seconds(s->at_least->seconds)) return false;
    if (s->until.core && !(reached_ && *reached_ >= stage_began_)) return false;
    if (s->until.time && elapsed < from_seconds(s->until.time->seconds)) return false;
    if (s->until.lethality && !(now.lethality && *now.lethality >= *s->until.lethality)) return false;
    return true;
}

void Cook::step(CookSituation const& now, CookOutput& out) {
    if (begun_) {
        read_cores(now, out);
        if (stage_is_over(now)) close_stage(now.now, "all that it waited for holds", out);
        foretell(now, out);
    }
    judge(now, out);
}

void Cook::judge(CookSituation const& now, CookOutput& out) const {
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
                                   " while evaporation carries the heat away. This is usual and passes; more "
                                   "heat is not called for.";
        }
        if (outlook_.unreachable) {
            f[core_unreachable].truth = Truth::present;
            f[core_unreachable].text = dish_.name + ": with " +
                                       vessel_names_[static_cast<std::size_t>(vessel())] +
                                       " as it is the core does not come to " + words.at(*target_) +
                                       "; it is at " + words.at(*core_) + ".";
        }
        f[core_stalled].value = f[core_unreachable].value = *core_;
    }
    for (auto& finding : f) out.findings.push_back(std::move(finding));
}

void Cook::foretell(CookSituation const& now, CookOutput& out) {
    if (!target_ || reached_) {
        outlook_ = {};
        return;
    }
    if (foretold_ && now.now - *foretold_ < forecast_every) return;
    foretold_ = now.now;
    outlook_ = estimate_.to(*target_, heats_core(phase()), now.now);
    Forecast forecast;
    forecast.at = now.now;
    forecast.what = "core-target";
    forecast.subject = subject_;
    forecast.eta_s = outlook_.eta_s;
    forecast.low_s = outlook_.low_s;
    forecast.high_s = outlook_.high_s;
    forecast.why = outlook_.why;
    out.forecast = std::move(forecast);
}

void Cook::remember(Memory& memory, std::string const& prefix) const {
    memory.put(prefix + "number", number_);
    memory.put(prefix + "begun", std::int64_t{begun_});
    if (!begun_) return;
    memory.put(prefix + "began", began_);
    memory.put(prefix + "stage", static_cast<std::int64_t>(stage_));
    memory.put(prefix + "stage-name", std::string(stage_name()));
    memory.put(prefix + "stage-began", stage_began_);
    memory.put(prefix + "plan", plan_.text);
    if (target_) memory.put(prefix + "target", *target_);
    if (peak_) memory.put(prefix + "peak", *peak_);
    if (coldest_seen_) memory.put(prefix + "coldest", *coldest_seen_);
    if (warmest_seen_) memory.put(prefix + "warmest", *warmest_seen_);
    memory.put(prefix + "places", places_);
    if (there_since_) memory.put(prefix + "there-since-s", *there_since_);
    if (reached_) {
        memory.put(prefix + "reached", *reached_);
        memory.put(prefix + "reached-target", reached_target_);
        memory.put(prefix + "reached-text", reached_text_);
    }
    memory.put(prefix + "told-disagreement", std::int64_t{told_disagreement_});
    if (foretold_) memory.put(prefix + "foretold", *foretold_);
    memory.put(prefix + "core-first", estimate_.first());
    memory.put(prefix + "core-past", estimate_.as_text());
}

std::string Cook::recall(Memory const& memory, std::string const& prefix) {
    auto const flag = [&](char const* key) { return memory.integer(prefix + key).value_or(0) != 0; };
    number_ = memory.integer(prefix + "number").value_or(0);
    begun_ = flag("begun");
    if (!begun_) return {};
    began_ = memory.instant(prefix + "began").value_or(Instant{});
    stage_began_ = memory.instant(prefix + "stage-began").value_or(began_);
    auto told = find_stage(memory, prefix);
    target_ = memory.number(prefix + "target");
    if (auto const* s = stage(); s && s->until.core) target_ = s->until.core->celsius;
    peak_ = memory.number(prefix + "peak");
    coldest_seen_ = memory.number(prefix + "coldest");
    warmest_seen_ = memory.number(prefix + "warmest");
    places_ = memory.integer(prefix + "places").value_or(0);
    there_since_ = memory.number(prefix + "there-since-s");
    reached_ = memory.instant(prefix + "reached");
    reached_target_ = memory.number(prefix + "reached-target").value_or(0);
    reached_text_ = memory.text(prefix + "reached-text").value_or("");
    told_disagreement_ = flag("told-disagreement");
    foretold_ = memory.instant(prefix + "foretold");
    if (auto const first = memory.instant(prefix + "core-first")) {
        estimate_.from_text(memory.text(prefix + "core-past").value_or(""), *first);
    }
    return told;
}

}  // namespace ingle
