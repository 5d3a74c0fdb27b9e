// The verdicts of a whole cook, by the ledger that the daemon runs.
#include <algorithm>

#include "daemon/review/at.hpp"
#include "daemon/review/food_facts.hpp"

namespace ingle {
namespace {

struct Item {
    double t = 0;
    int order = 0;  // at the same moment: stages, then lost time, then the medium, then the cores
    int core = -1;  // -1: the medium
    CookSample const* sample = nullptr;
    std::size_t stage = 0;
};

Instant at(double t) {
    return Instant(from_seconds(t));
}

void add_media(std::vector<Item>& items, CookRecord const& record) {
    for (std::size_t i = 0; i < record.stages.size(); ++i) {
        auto const& stage = record.stages[i];
        if (stage.vessel < 0) continue;
        bool const last = i + 1 == record.stages.size();
        double const until = last ? record.length_s : record.stages[i + 1].began;
        auto const& samples = record.vessels[static_cast<std::size_t>(stage.vessel)].medium.samples;
        auto from = std::ranges::lower_bound(samples, stage.began, {}, &CookSample::t);
        for (; from != samples.end() && (last ? from->t <= until : from->t < until); ++from)
            items.push_back({from->t, 2, -1, &*from, 0});
    }
}

void change_stage(FoodLedger& ledger, CookRecord const& record, std::size_t i, double t) {
    auto const phase = phase_at(record, t + 1e-6);
    std::optional<double> target, limit;
    if (i < record.stages.size()) {
        auto const& stage = record.stages[i];
        if (is_heated(phase)) target = stage.until_core_c;
        limit = stage.core_most_c;
    }
    ledger.stage(at(t), phase, target, limit);
    if (i < record.stages.size() && record.stages[i].vessel >= 0)
        ledger.put_in(record.vessels[static_cast<std::size_t>(record.stages[i].vessel)].kind);
}

}  // namespace

JudgedCook judge_cook(CookRecord const& record) {
    LedgerSettings settings;
    settings.dish = record.dish;
    // The cores are those that were recorded, by place.
    settings.dish.core = record.cores.empty() ? -1 : 0;
    settings.dish.more_cores.clear();
    for (std::size_t i = 1; i < record.cores.size(); ++i)
        settings.dish.more_cores.push_back(static_cast<int>(i));
    settings.cooling_rule = record.cooling_rule;
    settings.units = record.units;
    settings.boiling_c = record.boiling_c;
    double longest = 60;
    for (auto const& core : record.cores) longest = std::max(longest, core.longest_step_s());
    settings.longest_step = from_seconds(longest);
    FoodLedger ledger(std::move(settings), at(0));
    JudgedCook judged;
    judged.cores = record.cores;
    for (auto& core : judged.cores) core.samples.clear();
    judged.withdrawn_at.resize(judged.cores.size());
    ledger.on_judged([&](int core, JudgedReading const& reading) {
        auto const place = static_cast<std::size_t>(core);
        auto& samples = judged.cores[place].samples;
        if (reading.voids && !samples.empty()) {
            samples.clear();
            judged.withdrawn_at[place] = reading.t;
        }
        if (reading.back_to)
            std::erase_if(samples, [&](CookSample const& one) { return one.t > *reading.back_to; });
        if (reading.doubt == CoreDoubt::none)
            samples.push_back(
                {reading.t, reading.celsius, reading.doubtful, reading.after_move, reading.new_place});
    });

    std::vector<Item> items;
    for (std::size_t i = 0; i < record.stages.size(); ++i)
        items.push_back({record.stages[i].began, 0, -1, nullptr, i});
    if (!record.stages.empty() && record.stages.back().over && !record.stages.back().waits)
        items.push_back({record.stages.back().ended, 0, -1, nullptr, record.stages.size()});
    for (double const t : record.lost_time) items.push_back({t, 1, -1, nullptr, 0});
    for (std::size_t c = 0; c < record.cores.size(); ++c)
        for (auto const& sample : record.cores[c].samples)
            if (sample.t >= 0 && sample.t <= record.length_s)
                items.push_back({sample.t, 3, static_cast<int>(c), &sample, 0});
    add_media(items, record);
    std::ranges::stable_sort(
        items, [](Item const& a, Item const& b) { return a.t != b.t ? a.t < b.t : a.order < b.order; });
    for (auto const& item : items) {
        if (item.order == 0) {
            if (item.t < record.length_s) change_stage(ledger, record, item.stage, item.t);
        } else if (item.order == 1) {
            ledger.gap_of_unknown_length(at(item.t));
        } else {
            auto const quality = item.sample->doubtful ? Quality::doubtful : Quality::good;
            if (item.core >= 0)
                ledger.take(at(item.t), item.core, item.sample->celsius, quality);
            else
                ledger.medium(at(item.t), item.sample->celsius, quality);
        }
    }
    ledger.advance(at(record.length_s));
    judged.verdicts = ledger.verdicts();
    judged.summary = ledger.summary();
    return judged;
}

}  // namespace ingle
