// What kept food hot or cold on a day, and what was not read that was to be.
#include <algorithm>
#include <limits>

#include "daemon/food/classes.hpp"
#include "daemon/review/at.hpp"
#include "daemon/review/facts.hpp"
#include "tools/cli/record/day_parts.hpp"
#include "tools/cli/review/cook_series.hpp"

namespace ingle::cli {
namespace {

constexpr double far = std::numeric_limits<double>::infinity();

std::string medium_of(Settings const& settings, VesselSettings const& vessel) {
    auto const place = static_cast<std::size_t>(vessel.medium);
    return vessel.medium >= 0 && place < settings.probes.size() ? settings.probes[place].name : "";
}

// While a band was asked of it.
Stretches times_of_band(Book& book, VesselSettings const& vessel, KitchenDay const& day) {
    Stretches all;
    auto from = vessel.band ? std::optional(day.span.from) : std::nullopt;
    for (auto const& hold : holds_until_end_of(book, {day.span.from, day.until})) {
        if (hold.vessel != vessel.name) continue;
        auto const at = std::max(hold.at, day.span.from);
        if (from && !hold.band) add_stretch(all, {*from, at});
        if (!hold.band)
            from.reset();
        else if (!from)
            from = at;
    }
    if (from) add_stretch(all, {*from, day.until});
    return all;
}

HoldingEntry holding_of(CookSeries const& series, WallTime zero, VesselSettings const& vessel, bool hot,
                        Stretches const& in) {
    HoldingEntry row;
    row.hot = hot;
    row.name = vessel.name;
    row.probe = series.probe;
    row.limit_c = (hot ? hot_hold_limits() : cold_hold_limits()).front().celsius();
    row.held_s = length_of(in);
    take_extremes(row, series, zero, in);
    if (!row.lowest) return row;
    row.beyond_s = 0;
    auto const spells = hot ? spells_between(plain_steps(series), -far, row.limit_c - rounding_k, {})
                            : spells_between(plain_steps(series), row.limit_c + rounding_k, far, {});
    for (auto const& spell : spells.measured)
        *row.beyond_s += common_s(in, {wall_at(zero, spell.begin.t), wall_at(zero, spell.end.t)});
    row.unread_s = unread_in(series, zero, in);
    return row;
}

}  // namespace

void add_stretch(Stretches& all, WallSpan one) {
    if (one.to <= one.from) return;
    std::erase_if(all, [&](WallSpan const& other) {
        if (other.to < one.from || other.from > one.to) return false;
        one = {std::min(one.from, other.from), std::max(one.to, other.to)};
        return true;
    });
    auto const place = std::ranges::upper_bound(all, one.from, {}, &WallSpan::from);
    all.insert(place, one);
}

double length_of(Stretches const& all) {
    double sum = 0;
    for (auto const& one : all) sum += seconds(one.to - one.from);
    return sum;
}

double common_s(Stretches const& in, WallSpan with) {
    double sum = 0;
    for (auto const& one : in)
        sum += std::max(0.0, seconds(std::min(one.to, with.to) - std::max(one.from, with.from)));
    return sum;
}

void take_extremes(HoldingEntry& row, CookSeries const& series, WallTime zero, Stretches const& in) {
    for (auto const& sample : series.samples) {
        auto const at = wall_at(zero, sample.t);
        if (std::ranges::none_of(in, [&](WallSpan const& one) { return at >= one.from && at < one.to; }))
            continue;
        if (!row.lowest || sample.celsius < row.lowest->celsius) row.lowest = Measured{at, sample.celsius};
        if (!row.highest || sample.celsius > row.highest->celsius) row.highest = Measured{at, sample.celsius};
    }
}

double unread_in(CookSeries const& series, WallTime zero, Stretches const& in) {
    double const longest = series.longest_step_s();
    double sum = 0;
    for (auto const& one : in) {
        double before = seconds(one.from - zero);
        double const end = seconds(one.to - zero);
        auto const add = [&](double to) {
            if (to - before > longest) sum += to - before;
            before = to;
        };
        for (auto const& sample : series.samples) {
            if (sample.t <= before) {
                continue;
            }
            if (sample.t >= end) break;
            add(sample.t);
        }
        add(end);
    }
    return sum;
}

void read_vessels(Book& book, Settings const& settings, DayRecord& record, DayCooks use) {
    auto const& day = record.day;
    for (auto const& vessel : settings.vessels) {
        if (vessel.kind == VesselKind::fridge)
            add_stretch(use.vessels[vessel.name].cold, {day.span.from, day.until});
        if (vessel.kind == VesselKind::hot_box)
            for (auto const& one : times_of_band(book, vessel, day))
                add_stretch(use.vessels[vessel.name].hot, one);
        auto const used = use.vessels.find(vessel.name);
        auto const medium = medium_of(settings, vessel);
        if (used == use.vessels.end() || medium.empty()) continue;
        for (auto const* all : {&used->second.hot, &used->second.cold})
            for (auto const& one : *all) add_stretch(use.probes[medium], one);
    }
    CookRecord all;  // of the day, whoever is read in it
    all.began = day.span.from;
    all.length_s = seconds(day.until - day.span.from);
    std::vector<logbook::HistoryQuery> queries;
    for (auto const& [probe, when] : use.probes)
        queries.push_back({probe, {day.span.from, day.until}, Span{0}, false});
    auto const histories = book.reader().history(queries);
    book.check();
    for (std::size_t i = 0; i < histories.size(); ++i) {
        CookVessel one;
        one.medium = series_of(queries[i].probe, histories[i], all.began, settings, all.lost_time);
        record.readings += one.medium.samples.size();
        all.vessels.push_back(std::move(one));
    }
    for (auto const& vessel : settings.vessels) {
        auto const used = use.vessels.find(vessel.name);
        if (used == use.vessels.end()) continue;
        auto const medium = medium_of(settings, vessel);
        CookSeries series;
        for (auto const& one : all.vessels)
            if (one.medium.probe == medium && !medium.empty()) series = one.medium;
        for (bool const hot : {true, false}) {
            auto const& in = hot ? used->second.hot : used->second.cold;
            if (!in.empty()) record.holding.push_back(holding_of(series, all.began, vessel, hot, in));
        }
    }
    for (auto const& gap : gap_facts(all))
        for (auto const& one : use.probes[gap.probe]) {
            auto const from = std::max(one.from, wall_at(all.began, gap.from)),
                       to = std::min(one.to, wall_at(all.began, gap.to));
            if (to - from > std::chrono::minutes(1))
                record.holes.push_back({gap.probe, gap.reason, from, to});
        }
}

}  // namespace ingle::cli
