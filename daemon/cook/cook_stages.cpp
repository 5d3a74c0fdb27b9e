// From one stage of a cook to the next: by the cook's word, by what the plan waits for, or by what the core
// shows.
#include <algorithm>

#include "daemon/cook/cook.hpp"
#include "daemon/watches/words.hpp"

namespace ingle {
namespace {

constexpr Span agreement = std::chrono::seconds(30);  // one odd reading makes nothing good

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

// Whether somebody is needed when the one stage ends and the other begins: as the plan says, or where it does
// not, when anything but the time goes on otherwise. Unsure is needed.
bool needs_hands(StageSettings const& ended, StageSettings const& next) {
    if (next.vessel != ended.vessel) return true;
    if (next.hands) return next.hands->seconds > 0;
    if (next.does && next.does != ended.does) return true;
    auto const same = [](Band const& a, Band const& b) {
        return a.low.celsius == b.low.celsius && a.high.celsius == b.high.celsius;
    };
    if (ended.band && next.band) return !same(*ended.band, *next.band);
    // A core that is there cooks on in the heat.
    return ended.band || next.band || ended.until.core;
}

std::string what_ended(Until const& until) {
    std::string text;
    auto const add = [&](char const* part) { text += (text.empty() ? "" : ", ") + std::string(part); };
    if (until.time) add("time is up");
    if (until.core) add("core reached");
    if (until.lethality) add("lethality reached");
    return text;
}

}  // namespace

StageClock Cook::clock() const {
    StageClock clock;
    if (!begun_ || stage_ >= stages_.size()) return clock;
    if (waits_) {
        clock.state = "over; next is " + stages_[stage_ + 1].name;
    } else if (auto const& time = stages_[stage_].until.time) {
        clock.left = std::max(Span(0), from_seconds(time->seconds) - time_.counted());
        clock.state = time_.state();
    }
    return clock;
}

std::string Cook::begin(Instant at, std::int64_t number, CookOutput& out) {
    if (begun_) return dish_.name + " has already begun: end it first";
    use(file_plan_);
    plan_note_.clear();
    begun_ = true;
    number_ = number;
    began_ = at;
    stage_ = 0;
    waits_ = false;
    rang_ = 0;
    over_text_.clear();
    ready_text_.clear();
    undone_.clear();
    core_ = peak_ = coldest_seen_ = warmest_seen_ = std::nullopt;
    places_ = withdrawn_ = 0;
    withdrawals_ = 0;
    withdrawn_text_.clear();
    reached_.reset();
    open_stage(at, out);
    return "";
}

std::string Cook::left_open() const {
    auto const& until = stages_[stage_].until;
    Words const words(unit_);
    std::string text;
    if (until.core && !reached_) {
        auto const asked = words.at(until.core->celsius);
        if (!core_)
            text = "no reading of the core counted, and " + asked + " was asked";
        else if ((*core_ < until.core->celsius) == heats_core(phase()))
            text = "the core was at " + words.at(*core_) + ", and " + asked + " was asked";
        else
            text = "the core read " + words.at(*core_) + ", but that it had come to " + asked +
                   " and stayed there was not seen";
    }
    if (until.time && time_.counted() < from_seconds(until.time->seconds))
        text += (text.empty() ? "" : "; ") + Words::in(time_.counted()) + " of " + show(*until.time) +
                " have counted";
    if (until.lethality && text.empty() && until.core == std::nullopt)
        text = "a lethality was asked for, and is not known to be there";
    return text.empty() ? "" : " before its end: " + text;
}

void Cook::make_good(Instant now, double coldest_c) {
    auto const good = [&](LeftUndone const& one) {
        return one.core_c && coldest_c >= *one.core_c && coldest_seen_ && *coldest_seen_ < *one.core_c;
    };
    if (std::ranges::none_of(undone_, good)) return made_good_since_.reset();
    if (!made_good_since_) made_good_since_ = now;
    if (now - *made_good_since_ >= agreement) std::erase_if(undone_, good);
}

std::string Cook::next(Instant at, CookOutput& out) {
    if (!begun_) return dish_.name + " has not begun";
    over_text_.clear();
    if (waits_) {
        begin_waiting_stage(at, out);
        return "";
    }
    if (!stage()) return dish_.name + " has no further stage: its plan is done";
    auto const open = left_open();
    if (!open.empty()) {
        auto const& s = stages_[stage_];
        auto const core = s.until.core && !reached_ ? std::optional(s.until.core->celsius) : std::nullopt;
        undone_.push_back({s.name, s.name + " was left" + open, core});
    }
    close_stage(at, "moved on by hand" + open, out);
    return "";
}

std::string Cook::end(Instant at, CookOutput& out) {
    if (!begun_) return dish_.name + " has not begun";
    if (stage()) close_stage(at, "the cook was ended" + left_open(), out, stages_.size());
    begun_ = waits_ = late_ = false;
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
    core_forecast_.begin(entries());
    foretold_.reset();
    kept_.reset();
    outlook_ = {};
    auto const* s = stage();
    target_.reset();
    if (!s) return;
    time_.begin(at, *s);
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
    add("of", static_cast<double>(stages_.size()));
    if (s->does) add("does", static_cast<double>(*s->does));
    if (s->vessel >= 0) add("vessel", s->vessel);
    if (s->band) add("low_c", s->band->low.celsius), add("high_c", s->band->high.celsius);
    add("until_core_c", in_celsius(s->until.core));
    add("until_s", in_seconds(s->until.time));
    if (s->until.time && s->band) add("counts_from_begin", s->counts_from_begin);
    add("until_log10", s->until.lethality);
    add("at_least_s", in_seconds(s->at_least));
    add("at_most_s", in_seconds(s->at_most));
    add("core_most_c", in_celsius(s->core_most));
    out.events.push_back(std::move(e));
}

void Cook::tell_end(Instant at, std::string_view why, CookOutput& out) const {
    auto const& s = stages_[stage_];
    auto e = event(at, "stage-ended",
                   dish_.name + ": " + s.name + " ended after " + Words::in(at - stage_began_) + ", " +
                       std::string(why) + ".");
    e.numbers.emplace_back("stage", static_cast<double>(stage_ + 1));
    e.numbers.emplace_back("length_s", seconds(at - stage_began_));
    if (!waits_ && !left_open().empty()) e.numbers.emplace_back("left_open", 1);
    if (s.until.time) e.numbers.emplace_back("counted_s", seconds(time_.counted()));
    if (time_.reached()) e.numbers.emplace_back("reached_s", seconds(*time_.reached() - stage_began_));
    if (peak_) e.numbers.emplace_back("peak_c", *peak_);
    out.events.push_back(std::move(e));
}

void Cook::close_stage(Instant at, std::string_view why, CookOutput& out, std::optional<std::size_t> next) {
    tell_end(at, why, out);
    stage_ = next.value_or(stage_ + 1);
    open_stage(at, out);
}

void Cook::finish_stage(Instant at, CookOutput& out) {
    auto const over =
        dish_.name + ": " + stages_[stage_].name + " ended after " + Words::in(at - stage_began_);
    bool const last = stage_ + 1 == stages_.size();
    if (!last) ++rang_;
    over_can_wait_ = !last && !needs_hands(stages_[stage_], stages_[stage_ + 1]);
    if (last) {
        over_text_.clear();
        ready_text_ = over + ", and with it the plan";
    } else if (stages_[stage_ + 1].vessel != stages_[stage_].vessel) {
        auto const& next = stages_[stage_ + 1];
        auto const where =
            next.vessel < 0 ? "" : " in " + vessel_names_[static_cast<std::size_t>(next.vessel)];
        over_text_ = over + ". Next is " + next.name + where +
                     ": it begins when you have moved the dish and say `ingle next " + dish_.name + "`.";
        tell_end(at, what_ended(stages_[stage_].until), out);
        out.events.back().numbers.emplace_back("waits", 1);
        waits_ = true;
        departure_ = {};
        target_.reset();
        out.stage_changed = true;
        return;
    } else {
        over_text_ = over + "; " + stages_[stage_ + 1].name + " has begun.";
    }
    close_stage(at, what_ended(stages_[stage_].until), out);
}

void Cook::begin_waiting_stage(Instant at, CookOutput& out) {
    waits_ = false;
    ++stage_;
    open_stage(at, out);
}

LeftOfPlan Cook::left(Instant now) const {
    StageSoFar so_far;
    bool const runs = stage() != nullptr;
    if (runs) so_far = {now - stage_began_, time_.counted(), reached_.has_value(), outlook_};
    return left_of_plan(std::span(stages_).subspan(runs ? stage_ : stage_ + 1), so_far);
}

// From when three of four such cooks would be late until one of two is in time: a forecast that moves a
// little is not told again and again. What cannot be judged now stays as it was told.
Truth Cook::lateness(CookSituation const& now) const {
    constexpr double worth_telling_s = 300;
    if (!begun_ || stage_ >= stages_.size()) return Truth::absent;
    if (!now.serving_s) return late_ ? Truth::unknown : Truth::absent;
    auto const still = left(now.now);
    double const by = still.likely_s - *now.serving_s;
    if (!late_)
        return still.soon_s > *now.serving_s && by >= worth_telling_s ? Truth::present : Truth::absent;
    if (by > 0) return Truth::present;
    return still.present_known ? Truth::absent : Truth::unknown;
}

Finding Cook::late_for_serving(CookSituation const& now, Truth truth) const {
    Finding finding;
    finding.truth = truth;
    if (truth != Truth::present) return finding;
    auto const still = left(now.now);
    finding.value = still.likely_s - *now.serving_s;
    finding.text =
        dish_.name + " will probably be late: it needs about " + Words::in(from_seconds(still.likely_s)) +
        (still.complete ? "" : " or longer") +
        (*now.serving_s > 0 ? ", and serving is in " + Words::in(from_seconds(*now.serving_s))
                            : ", and serving was " + Words::in(from_seconds(-*now.serving_s)) + " ago") +
        "." + what_helps(now);
    return finding;
}

std::string Cook::what_helps(CookSituation const& now) const {
    constexpr double room_k = 1;
    Words const words(unit_);
    auto const* s = stage();
    std::string room;
    if (s && s->vessel >= 0 && s->band && target_ && now.medium && now.medium->fresh && heats_core(phase()) &&
        now.medium->level < s->band->high.celsius - room_k)
        room = " " + vessel_names_[static_cast<std::size_t>(s->vessel)] + " is at " +
               words.at(now.medium->level) + " and may go up to " + words.at(s->band->high.celsius);
    if (now.helps && !now.helps->empty()) {
        auto text = " What helps: " + now.helps->front();
        if (now.helps->size() > 1) text += "; or " + (*now.helps)[1];
        return text + "." + (room.empty() ? "" : room + ".");
    }
    if (!room.empty()) return room + "; else serve it later.";
    return " Nothing that its plan allows makes it quicker: serve it later, or say another time.";
}

bool Cook::has_left(CookSituation const& now) {
    if (vessel() < 0 || !core_ || !now.medium || !now.medium->fresh || now.medium->doubtful) return false;
    return departure_.step(now.now, *core_, now.medium->celsius,
                           is_cold(vessel_kinds_[static_cast<std::size_t>(vessel())]));
}

}  // namespace ingle
