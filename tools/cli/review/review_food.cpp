// The food's verdicts, and under each core the rows from which they can be redone with pen and paper.
#include <algorithm>
#include <cmath>

#include "tools/cli/output/text.hpp"
#include "tools/cli/review/review_doc.hpp"
#include "tools/cli/time/local_time.hpp"

namespace ingle::cli {
namespace {

constexpr std::size_t most_rows = 12;
constexpr std::string_view in_short = "in short";
constexpr double joined_s = 120;  // crossings of a reading that stands at its limit are one row

// Minutes and seconds, exact enough to be added up: "68:00".
std::string exact(double s) {
    auto const all = static_cast<long>(std::lround(s));
    auto const text = std::to_string(all % 60);
    return std::to_string(all / 60) + ":" + (text.size() < 2 ? "0" : "") + text;
}

class FoodPages {
public:
    FoodPages(CookRecord const& record, FoodFacts const& food)
        : record_(record), food_(food), clock_(record) {}

    void add(Doc& doc) {
        auto& section = doc.section("food safety, rule by rule");
        section.add(Block::Kind::caution, food_.caution);
        std::string about = "Food class: ";
        about += food_.food.empty() ? "not said" : food_.food + " (" + food_.means + ")";
        section.say(about + ". What no probe saw is judged at its worst.");
        for (auto const& core : record_.cores)
            for (auto const& one : core.earlier)
                section.say("Until " + clock_.at(one.until) + " its core was read by " + one.probe +
                            "; the kitchen file gave it another probe then.");
        auto& verdicts = section.table({"rule", "answer"});
        for (auto const& verdict : food_.verdicts) {
            if (verdict.rule == in_short) continue;
            verdicts.rows.push_back({verdict.rule, verdict.answer});
            verdicts.details.push_back(verdict.text +
                                       (verdict.source.empty() ? "" : " [" + verdict.source + "]"));
        }
    }
    void add_sums(Doc& doc) {
        for (auto const& core : food_.cores) add_core(doc, core);
    }

private:
    std::string degrees(double c, int decimals = 2) const {
        return fixed(to_unit(Temperature{c}, record_.units), decimals);
    }
    std::string unit() const { return std::string(unit_name(record_.units)); }
    std::string shown(double c) const { return show(Temperature{c}, record_.units); }

    std::string end_text(Crossing const& crossing, bool begins) const {
        if (!crossing.seen)
            return begins ? "already there at its first reading" : "still there at its last reading";
        if (crossing.before.t == crossing.t)
            return degrees(crossing.before.celsius) + " read at " + clock_.at(crossing.t);
        if (crossing.after.t == crossing.t)
            return degrees(crossing.after.celsius) + " read at " + clock_.at(crossing.t);
        return degrees(crossing.before.celsius) + " at " + clock_.at(crossing.before.t) + ", " +
               degrees(crossing.after.celsius) + " at " + clock_.at(crossing.after.t);
    }

    // Of a limit that it did pass, whether somebody read it or not.
    std::string passed_text(Crossing const& crossing) const {
        if (crossing.seen) return end_text(crossing, false);
        if (crossing.after.t <= crossing.before.t) return "at the latest then; before that it was not read";
        return degrees(crossing.before.celsius) + " at " + clock_.at(crossing.before.t) + ", " +
               degrees(crossing.after.celsius) + " at " + clock_.at(crossing.after.t) +
               ", and nothing was read between";
    }

    static bool goes_on(FoodSpell const& before, FoodSpell const& after) {
        return before.stage == after.stage && after.begin.t - before.end.t < joined_s;
    }

    void add_spells(Section& section, FoodSpells const& spells, std::string const& heading) const {
        if (spells.measured.empty() && spells.unseen.empty()) return;
        auto& table = section.table({"from", "to", "min:s", "during"}, heading);
        table.right = {2};
        std::size_t left_out = 0;
        double rest = 0;
        for (std::size_t i = 0; i < spells.measured.size();) {
            auto const& spell = spells.measured[i];
            double sum = 0;
            auto last = i;
            for (; i < spells.measured.size(); last = i++) {
                auto const& next = spells.measured[i];
                if (&next != &spell && !goes_on(spells.measured[last], next)) break;
                sum += next.seconds();
            }
            if (table.rows.size() >= most_rows) {
                ++left_out;
                rest += sum;
                continue;
            }
            auto const& end = spells.measured[last].end;
            table.rows.push_back({clock_.at(spell.begin.t), clock_.at(end.t), exact(sum), spell.stage});
            auto const crossings = 2 * (last - static_cast<std::size_t>(&spell - spells.measured.data()));
            table.details.push_back("from: " + end_text(spell.begin, true) + "; to: " + end_text(end, false) +
                                    (crossings == 0
                                         ? ""
                                         : "; between them it crossed the limit " +
                                               std::to_string(crossings) + " times, and " +
                                               exact(end.t - spell.begin.t - sum) + " are not counted"));
        }
        if (left_out > 0) {
            table.rows.push_back({"and " + std::to_string(left_out) + " more", "", exact(rest), ""});
            table.details.emplace_back();
        }
        for (auto const& spell : spells.unseen) {
            table.rows.push_back({clock_.at(spell.from), clock_.at(spell.to),
                                  "up to " + (spell.possible_s < 1e7 ? exact(spell.possible_s) : "any time"),
                                  "not read"});
            table.details.push_back("before " + degrees(spell.before_c) + ", after " +
                                    degrees(spell.after_c) + " " + unit());
        }
        table.rows.push_back({"measured", "", exact(spells.measured_s()), ""});
        if (!spells.unseen.empty()) table.rows.push_back({"possible", "", exact(spells.possible_s()), ""});
        table.details.resize(table.rows.size());
    }

    void add_core(Doc& doc, CoreFacts const& core) const {
        auto& section = doc.section("to redo it by hand: " + core.probe);
        if (core.withdrawn_at)
            section.say("What was read of it until " + clock_.at(*core.withdrawn_at) +
                        " was taken back then: the tip had not been in the middle of the food. None of that "
                        "counts, and none of it is in the rows below.");
        if (!core.seen) {
            section.say(
                core.not_its_own > 0
                    ? "Of " + std::to_string(core.not_its_own) +
                          " readings none is the core's own: "
                          "the tip was in the air or in the liquid, or moved. Nothing is known of the core."
                    : "This core was never read, so nothing is known of it.");
            return;
        }
        section.say(
            "Between two readings a straight line is taken: a limit L is passed at t1 + (t2 - t1) x "
            "(L - T1) / (T2 - T1). Readings further apart than " +
            length_text(core.longest_step_s) + " leave a gap, which counts for nothing good. Highest: " +
            shown(core.peak.celsius) + " at " + clock_.at(core.peak.t) + ".");
        if (core.not_its_own > 0)
            section.say(
                std::to_string(core.not_its_own) +
                " readings do not count: they moved faster than a core can, or came where the core "
                "cannot have been yet, so the tip was out of its place; or they stood to the last digit "
                "for so long that the probe had stopped measuring; or they came in the last half "
                "minute, which nothing later confirms.");
        if (food_.target_c)
            add_spells(
                section, core.at_target,
                "core-target: at or above " + shown(*food_.target_c) +
                    (food_.target_hold_s.value_or(0) > 0 ? ", asked for " + length_text(*food_.target_hold_s)
                                                         : ""));
        add_table(section, core);
        add_pieces(section, core);
        add_spells(section, core.come_up,
                   "lethality's condition: the way up from " + shown(10) + " to " +
                       shown(from_fahrenheit(130)) + ", at most 6 h");
        add_spells(
            section, core.danger,
            "danger-zone: between " + shown(from_fahrenheit(40)) + " and " + shown(from_fahrenheit(140)));
        add_cooling(section, core);
        add_spells(section, core.held_wrong,
                   "holding: below " + shown(food_.hot_limit_c) + " where it is to be kept hot, above " +
                       shown(food_.cold_limit_c) + " where cold");
    }

    void add_table(Section& section, CoreFacts const& core) const {
        if (food_.model != LethalityModel::fsis_poultry || core.table.empty()) return;
        auto& table = section.table({"degF", "seconds there", "table asks", "log10"},
                                    "lethality: " + fixed(food_.target_log10, 1) +
                                        " x seconds at each whole degree / what the table asks there");
        table.right = {0, 1, 3};
        double sum = 0;
        for (auto const& row : core.table) {
            sum += row.log10;
            std::string asks = row.asked.printed > 0
                                   ? fixed(row.asked.printed, 1) + (row.asked.in_minutes ? " min" : " s")
                                   : "an instant; counted as " + fixed(row.rate_s, 1) + " s";
            bool const last = row.fahrenheit == 165;
            table.rows.push_back({std::to_string(row.fahrenheit) + (last ? " and above" : ""),
                                  fixed(row.seconds, 1), std::move(asks), fixed(row.log10, 3)});
        }
        table.rows.push_back({"sum", "", "", fixed(sum, 2)});
        table.details.resize(table.rows.size());
        if (core.log10 && *core.log10 > sum + 0.01)
            section.say("A row that the table prints as an instant was touched, so that its " +
                        fixed(food_.target_log10, 1) + " log10 are reached whatever the sum.");
    }

    void add_pieces(Section& section, CoreFacts const& core) const {
        auto const& model = food_.log_linear;
        if (core.pieces.empty()) return;
        double const scale = record_.units == TemperatureUnit::fahrenheit ? 1.8 : 1;
        auto const reference = degrees(model.t_ref_c, 1), z = fixed(model.z_k * scale, 1);
        auto& table =
            section.table({"from", unit(), "to", unit(), "min", "worth"},
                          "lethality: minutes at " + reference + " " + unit() +
                              " that straight pieces of the core's way are "
                              "worth. r = 10^((T - " +
                              reference + ") / " + z + "), T at most " + degrees(model.highest_c, 1) +
                              ", nothing below " + degrees(model.lowest_c, 1) +
                              "; worth = min x (r2 - r1) / ln(r2 / r1), or min x r where r1 = r2");
        table.right = {1, 3, 4, 5};
        for (auto const& piece : core.pieces)
            table.rows.push_back({clock_.at(piece.begin.t), degrees(piece.begin.celsius),
                                  clock_.at(piece.end.t), degrees(piece.end.celsius),
                                  fixed((piece.end.t - piece.begin.t) / 60, 2),
                                  fixed(piece.worth_s / 60, 3)});
        table.rows.push_back({"sum", "", "", "", "", fixed(core.pieces_s / 60, 2)});
        section.say("All readings, one by one, come to " + fixed(core.lethal_s / 60, 2) + " min. " +
                    fixed(model.d_ref_s / 60, 3) + " min are worth 1 log10: " + fixed(core.lethal_s / 60, 2) +
                    " / " + fixed(model.d_ref_s / 60, 3) + " = " + fixed(core.lethal_s / model.d_ref_s, 2) +
                    " log10.");
    }

    void add_cooling(Section& section, CoreFacts const& core) const {
        if (!core.cooling_from || core.cooling.empty()) return;
        auto& table =
            section.table({"to", "passed", "took", "allowed", "answer"}, "cooling: " + food_.cooling_rule);
        table.rows.push_back(
            {"start, " + shown(core.cooling_from->level_c), clock_.at(core.cooling_from->t), "", "", ""});
        table.details.push_back(passed_text(*core.cooling_from));
        for (auto const& row : core.cooling) {
            std::string took = std::isfinite(row.took_most_s) ? exact(row.took_most_s) : "longer";
            if (std::isfinite(row.took_most_s) && row.took_most_s - row.took_least_s > 1)
                took = exact(row.took_least_s) + " to " + took;
            table.rows.push_back({row.what, row.passed && row.at.seen ? clock_.at(row.at.t) : "not seen",
                                  (row.passed ? "" : "so far ") + took, exact(row.allowed_s),
                                  row.answer == "unknown" && !row.passed ? "open" : row.answer});
            table.details.push_back(row.passed ? passed_text(row.at) : "");
        }
    }

    CookRecord const& record_;
    FoodFacts const& food_;
    CookClock clock_;
};

}  // namespace

void add_safe_to_eat(Doc& doc, CookRecord const& record, FoodFacts const& food) {
    auto const row = std::ranges::find(food.verdicts, in_short, &Verdict::rule);
    if (row == food.verdicts.end()) return;
    bool const wrong = row->answer.starts_with("missed") || row->answer == "not reached";
    doc.section("is it safe to eat?")
        .say(record.dish.name + ": " +
             (wrong                                 ? "no. "
              : row->answer == "not reached so far" ? "not yet. "
                                                    : "") +
             row->text);
}

void add_food(Doc& doc, CookRecord const& record, FoodFacts const& food) {
    FoodPages(record, food).add(doc);
}

void add_food_sums(Doc& doc, CookRecord const& record, FoodFacts const& food) {
    FoodPages(record, food).add_sums(doc);
}

}  // namespace ingle::cli
