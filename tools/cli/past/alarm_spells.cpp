#include "tools/cli/past/alarm_spells.hpp"

#include <map>
#include <set>

namespace ingle::cli {

std::vector<AlarmSpell> spells_of(std::vector<logbook::AlarmRow> const& rows) {
    std::vector<AlarmSpell> spells;
    std::map<std::int64_t, std::size_t> by_id;
    for (auto const& row : rows) {
        auto const [place, added] = by_id.try_emplace(row.alarm, spells.size());
        if (added) {
            spells.push_back({row.alarm,
                              row.name,
                              row.subject_kind,
                              row.subject,
                              row.priority,
                              row.text,
                              "",
                              row.at.wall,
                              {},
                              {},
                              1,
                              0});
        }
        auto& spell = spells[place->second];
        if (row.transition == "acknowledged") {
            spell.acknowledged = row.at.wall;
            spell.acknowledged_by = row.by;
        }
        if (row.transition == "cleared") spell.cleared = row.at.wall;
        if (row.transition == "raised" && !added) spell.cleared.reset();
        if (row.transition == "worsened") spell.priority = row.priority;
        if (!row.text.empty() && row.transition != "cleared") spell.text = row.text;
        spell.spells = row.spells;
        spell.worst = row.worst;
    }
    return spells;
}

std::vector<AlarmSpell> spells_in(Book& book, Selection const& selection) {
    constexpr auto before = std::chrono::hours(24 * 7);
    auto const span = selection.span;
    auto rows = book.reader().alarms({span.from - before, span.to});
    book.check();
    std::set<std::int64_t> told;
    for (auto const& row : rows)
        if (row.at.wall >= span.from && selection.concerns(row.subject_kind, row.subject, row.text))
            told.insert(row.alarm);
    std::erase_if(rows, [&](auto const& row) { return !told.contains(row.alarm); });
    return spells_of(rows);
}

}  // namespace ingle::cli
