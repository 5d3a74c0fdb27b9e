// What a cook remembers over a restart.
#include "daemon/cook/cook.hpp"

namespace ingle {

void Cook::remember(Memory& memory, std::string const& prefix) const {
    memory.put(prefix + "number", number_);
    memory.put(prefix + "begun", std::int64_t{begun_});
    if (!begun_) return;
    memory.put(prefix + "began", began_);
    memory.put(prefix + "stage", static_cast<std::int64_t>(stage_));
    memory.put(prefix + "stage-name", std::string(stage_name()));
    memory.put(prefix + "done", std::int64_t{stage_ >= stages_.size()});  // a stage may bear any name
    memory.put(prefix + "stage-began", stage_began_);
    // Without it `recall` goes by the name of the running stage; empty says that the dish has no plan.
    if (!plan_.text.empty() || plan_.stages.empty()) memory.put(prefix + "plan", plan_.text);
    memory.put(prefix + "waits", std::int64_t{waits_});
    memory.put(prefix + "rang", std::int64_t{rang_});
    memory.put(prefix + "over-text", over_text_);
    memory.put(prefix + "over-can-wait", std::int64_t{over_can_wait_});
    memory.put(prefix + "ready-text", ready_text_);
    time_.remember(memory, prefix + "time.");
    if (target_) memory.put(prefix + "target", *target_);
    if (peak_) memory.put(prefix + "peak", *peak_);
    if (coldest_seen_) memory.put(prefix + "coldest", *coldest_seen_);
    if (warmest_seen_) memory.put(prefix + "warmest", *warmest_seen_);
    memory.put(prefix + "places", places_);
    memory.put(prefix + "withdrawn", withdrawn_);
    memory.put(prefix + "withdrawals", std::int64_t{withdrawals_});
    memory.put(prefix + "withdrawn-text", withdrawn_text_);
    if (there_since_) memory.put(prefix + "there-since-s", *there_since_);
    if (reached_) {
        memory.put(prefix + "reached", *reached_);
        memory.put(prefix + "reached-target", reached_target_);
        memory.put(prefix + "reached-text", reached_text_);
        memory.put(prefix + "reached-stage", static_cast<std::int64_t>(reached_stage_));
    }
    memory.put(prefix + "told-disagreement", std::int64_t{told_disagreement_});
    for (std::size_t i = 0; i < undone_.size(); ++i) {
        auto const key = prefix + "undone." + std::to_string(i) + ".";
        memory.put(key + "stage", undone_[i].stage);
        memory.put(key + "text", undone_[i].text);
        if (undone_[i].core_c) memory.put(key + "core", *undone_[i].core_c);
    }
    if (late_) memory.put(prefix + "late", std::int64_t{late_});
    memory.put(prefix + "core-first", core_forecast_.first());
    memory.put(prefix + "core-past", core_forecast_.as_text());
}

std::string Cook::recall(Memory const& memory, std::string const& prefix) {
    auto const flag = [&](char const* key) { return memory.integer(prefix + key).value_or(0) != 0; };
    number_ = memory.integer(prefix + "number").value_or(0);
    begun_ = flag("begun");
    if (!begun_) return {};
    began_ = memory.instant(prefix + "began").value_or(Instant{});
    stage_began_ = memory.instant(prefix + "stage-began").value_or(began_);
    auto told = find_stage(memory, prefix);
    waits_ = flag("waits") && stage_ + 1 < stages_.size();
    rang_ = static_cast<int>(memory.integer(prefix + "rang").value_or(0));
    over_text_ = memory.text(prefix + "over-text").value_or("");
    over_can_wait_ = flag("over-can-wait");
    ready_text_ = memory.text(prefix + "ready-text").value_or("");
    if (stage_ < stages_.size()) {
        time_.begin(stage_began_, stages_[stage_]);
        time_.recall(memory, prefix + "time.");
    }
    target_ = memory.number(prefix + "target");
    if (auto const* s = stage(); s && s->until.core) target_ = s->until.core->celsius;
    peak_ = memory.number(prefix + "peak");
    coldest_seen_ = memory.number(prefix + "coldest");
    warmest_seen_ = memory.number(prefix + "warmest");
    places_ = memory.integer(prefix + "places").value_or(0);
    withdrawn_ = memory.integer(prefix + "withdrawn").value_or(0);
    withdrawals_ = static_cast<int>(memory.integer(prefix + "withdrawals").value_or(0));
    withdrawn_text_ = memory.text(prefix + "withdrawn-text").value_or("");
    there_since_ = memory.number(prefix + "there-since-s");
    reached_ = memory.instant(prefix + "reached");
    reached_target_ = memory.number(prefix + "reached-target").value_or(0);
    reached_text_ = memory.text(prefix + "reached-text").value_or("");
    reached_stage_ = static_cast<std::size_t>(
        std::max<std::int64_t>(0, memory.integer(prefix + "reached-stage").value_or(0)));
    reached_stage_ = place_now(reached_stage_).value_or(stages_.size());
    told_disagreement_ = flag("told-disagreement");
    late_ = flag("late");
    undone_.clear();
    for (std::size_t i = 0;; ++i) {
        auto const key = prefix + "undone." + std::to_string(i) + ".";
        auto stage = memory.text(key + "stage");
        if (!stage) break;
        undone_.push_back(
            {*std::move(stage), memory.text(key + "text").value_or(""), memory.number(key + "core")});
    }
    if (auto const first = memory.instant(prefix + "core-first")) {
        core_forecast_.begin(entries());
        core_forecast_.from_text(memory.text(prefix + "core-past").value_or(""), *first);
    }
    return told;
}

}  // namespace ingle
