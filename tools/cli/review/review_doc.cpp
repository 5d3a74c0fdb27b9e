#include "tools/cli/review/review_doc.hpp"

#include <algorithm>
#include <cmath>

#include "tools/cli/output/text.hpp"
#include "tools/cli/time/local_time.hpp"

namespace ingle::cli {
namespace {

std::string percent(std::optional<double> share) {
    return share ? fixed(100 * *share, *share > 0.995 && *share < 1 ? 1 : 0) + " %" : "-";
}

std::string counted(std::size_t n, std::string const& what) {
    return std::to_string(n) + " " + what + (n == 1 ? "" : "s");
}

std::string ahead_or_late(double s) {
    return length_text(std::abs(s)) + (s >= 0 ? " late" : " early");
}

std::string without_numbers(std::string text) {
    std::erase_if(text, [](char c) { return c >= '0' && c <= '9'; });
    return text;
}

class Page {
public:
    Page(CookRecord const& record, CookFacts const& facts) : record_(record), facts_(facts), clock_(record) {}

    Doc make() {
        head();
        add_safe_to_eat(doc_, record_, facts_.food);
        doc_.section("").blocks.push_back(review_chart(record_, facts_));
        stages();
        add_food(doc_, record_, facts_.food);
        excursions();
        doors();
        alarms();
        gaps();
        forecasts();
        responses();
        next();
        add_food_sums(doc_, record_, facts_.food);
        return std::move(doc_);
    }

private:
    std::string degrees(std::optional<double> c) const { return temperature_text(c, record_.units); }
    std::string kelvin(double k) const { return show(TemperatureDifference{k}, record_.units); }

    void head() {
        doc_.title = record_.title + ": review of a cook";
        doc_.subtitle = (record_.kitchen.empty() ? "" : record_.kitchen + ", ") + time_text(record_.began) +
                        " to " + time_text(record_.began + from_seconds(record_.length_s)) + ", " +
                        length_text(record_.length_s) + (record_.over ? "." : ", still running.");
        if (!record_.clock_certain)
            doc_.subtitle += " The clock was not certain: times are counted from the start.";
        if (record_.imported)
            doc_.subtitle +=
                " Worked out anew from a recording: what was read and done before its first row is not in "
                "it.";
        if (!record_.beside.empty()) {
            doc_.subtitle += " The same recording has";
            for (std::size_t i = 0; i < record_.beside.size(); ++i)
                doc_.subtitle += (i == 0 ? " " : ", ") + ("`ingle review " + record_.beside[i] + "`");
            doc_.subtitle += ".";
        }
    }

    std::string planned(CookStage const& stage) const {
        std::string text;
        auto const add = [&](std::string part) { text += (text.empty() ? "" : ", ") + std::move(part); };
        if (stage.until_s) add(length_text(*stage.until_s));
        if (stage.until_core_c) add("core " + degrees(stage.until_core_c));
        if (stage.until_log10) add(fixed(*stage.until_log10, 1) + " log10");
        if (stage.at_least_s) add("at least " + length_text(*stage.at_least_s));
        if (stage.at_most_s) add("at most " + length_text(*stage.at_most_s));
        return text.empty() ? "until somebody says `next`" : text;
    }

    std::string band_words(BandFacts const& band) const {
        auto text = band.vessel + " " +
                    band_text(band.band.low.celsius, band.band.high.celsius, record_.units) + ": ";
        if (!band.reached_s) return text + "never in it.";
        text += *band.reached_s < 1 ? "in it from the start" : "in it after " + length_text(*band.reached_s);
        text += ", then in band " + percent(band.share()) + " of the time measured";
        if (band.without_s > 1)
            text += " (" + percent(band.worst_share()) + " if it was outside in the " +
                    length_text(band.without_s) + " without readings)";
        text += ": " + length_text(band.in_s) + " in, " + length_text(band.above_s) + " above, " +
                length_text(band.below_s) + " below.";
        if (band.mean_c)
            text += " Mean " + degrees(band.mean_c) + ", from " + degrees(band.min_c) + " to " +
                    degrees(band.max_c) + ".";
        return text;
    }

    // Of the time that it waits for: what was counted, or about what is left of a running one.
    std::string time_of(std::size_t place) const {
        auto const& stage = record_.stages[place];
        if (!stage.until_s) return "";
        if (stage.over)
            return stage.counted_s ? " Counted: " + length_text(*stage.counted_s) + "." : std::string();
        double passed = stage.ended - stage.began;
        for (auto const& band : facts_.bands)
            if (band.stage == place && !stage.counts_from_begin)
                passed = band.reached_s ? std::max(0.0, passed - *band.reached_s) : 0;
        return " Left: about " + length_text(std::max(0.0, *stage.until_s - passed)) +
               "; `ingle now` has it exactly.";
    }

    void stages() {
        auto& section = doc_.section("stages");
        if (record_.over && record_.planned_stages > record_.stages.size())
            section.say("Of the " + std::to_string(record_.planned_stages) + " stages of its plan, " +
                        std::to_string(record_.planned_stages - record_.stages.size()) +
                        (record_.planned_stages == record_.stages.size() + 1 ? " was" : " were") +
                        " never begun.");
        auto& table = section.table({"no", "stage", "began", "took"});
        for (std::size_t i = 0; i < record_.stages.size(); ++i) {
            auto const& stage = record_.stages[i];
            table.rows.push_back({std::to_string(i + 1), stage.name, clock_.at(stage.began),
                                  length_text(stage.ended - stage.began) + (stage.over ? "" : " so far")});
            std::string detail = "planned: " + planned(stage) + "." + time_of(i);
            if (stage.left_early)
                detail += i + 1 == record_.stages.size() ? " The cook was ended before that had come."
                                                         : " Moved on by hand before that had come.";
            for (auto const& band : facts_.bands)
                if (band.stage == i) detail += " " + band_words(band);
            table.details.push_back(std::move(detail));
        }
    }

    void excursions() {
        std::vector<std::pair<Excursion, std::string>> all;
        for (auto const& band : facts_.bands)
            for (auto const& one : band.excursions) all.emplace_back(one, band.vessel);
        if (all.empty()) return;
        auto& section = doc_.section("outside the band");
        // Many small ones: the page has room for those that went furthest.
        constexpr std::size_t most = 12;
        auto const left_out = all.size() > most ? all.size() - most : 0;
        if (left_out > 0) {
            std::ranges::stable_sort(
                all, [](auto const& a, auto const& b) { return a.first.area_k_min > b.first.area_k_min; });
            all.resize(most);
            std::ranges::stable_sort(
                all, [](auto const& a, auto const& b) { return a.first.from < b.first.from; });
        }
        auto& table = section.table({"from", "vessel", "side", "lasted", "worst", "area"});
        double const scale = record_.units == TemperatureUnit::fahrenheit ? 1.8 : 1;
        for (auto const& [one, vessel] : all)
            table.rows.push_back(
                {clock_.at(one.from), vessel, one.above ? "above" : "below",
                 (one.cut ? "at least " : "") + length_text(one.seconds()), kelvin(one.depth_k),
                 fixed(one.area_k_min * scale, 1) + " " + std::string(unit_name(record_.units)) + " min"});
        if (left_out > 0) section.say("and " + std::to_string(left_out) + " smaller ones.");
    }

    void doors() {
        if (facts_.doors.empty()) return;
        auto& table = doc_.section("doors and lids").table({"at", "vessel", "open", "fell by", "back after"});
        for (auto const& door : facts_.doors)
            table.rows.push_back({clock_.at(door.at), door.vessel,
                                  door.open_s > 0 ? length_text(door.open_s) : "-",
                                  door.depth_k > 0 ? kelvin(door.depth_k) : "-",
                                  door.recovery_s ? length_text(*door.recovery_s) : "not seen"});
    }

    // Of alarms that came again and again with other numbers only, the first ones' words stand for all.
    std::string alarm_words(std::size_t place) const {
        constexpr std::size_t in_full = 2;
        auto const& alarm = facts_.alarms[place];
        std::size_t same = 0, first = place;
        for (std::size_t i = 0; i < place; ++i) {
            auto const& other = facts_.alarms[i];
            if (other.name != alarm.name || other.subject != alarm.subject ||
                without_numbers(other.text) != without_numbers(alarm.text))
                continue;
            if (other.text == alarm.text) return "As " + alarm_letter(i) + ".";
            if (same++ == 0) first = i;
        }
        return same < in_full ? alarm.text : "As " + alarm_letter(first) + ", with other numbers.";
    }

    void alarms() {
        auto& section = doc_.section("alarms");
        if (facts_.alarms.empty()) return section.say("None.");
        auto& table =
            section.table({"", "raised", "alarm", "about", "priority", "acknowledged after", "ended after"});
        for (std::size_t i = 0; i < facts_.alarms.size(); ++i) {
            auto const& alarm = facts_.alarms[i];
            auto const seen = alarm.to_acknowledge_s();
            table.rows.push_back({alarm_letter(i), clock_.at(alarm.raised), alarm.name, alarm.subject,
                                  alarm.priority, seen ? length_text(*seen) : "never",
                                  alarm.cleared ? length_text(*alarm.cleared - alarm.raised) : "-"});
            auto words = alarm_words(i);
            for (auto const& worse : alarm.worse)
                words += " At " + clock_.at(worse.at) + " worse (" + worse.priority + "): " + worse.text;
            if (!alarm.acknowledged_by.empty()) words += " Acknowledged by " + alarm.acknowledged_by + ".";
            table.details.push_back(std::move(words));
        }
    }

    void gaps() {
        auto& section = doc_.section("gaps in the record");
        if (facts_.gaps.empty()) return section.say("None.");
        auto& table = section.table({"from", "to", "lasted", "probe", "why"});
        for (auto const& gap : facts_.gaps)
            table.rows.push_back({clock_.at(gap.from), clock_.at(gap.to), length_text(gap.to - gap.from),
                                  gap.probe, gap.reason});
        if (!record_.lost_time.empty())
            section.say("The board did not know the time across a gap: how long that one was is not known.");
    }

    std::string why_none_is_scored() const {
        if (facts_.forecasts.core_reached_s) return "there was none before it was reached.";
        if (facts_.forecasts.core_came_unseen) return "nobody read when the core came to it.";
        bool const withdrawn = std::ranges::any_of(
            facts_.food.cores, [](auto const& core) { return core.withdrawn_at.has_value(); });
        return withdrawn ? "what had been read of the core was taken back."
                         : "it was not seen to be reached.";
    }

    void forecasts() {
        auto const& all = facts_.forecasts;
        auto& section = doc_.section("early warnings");
        if (all.warnings.empty() && all.unwarned == 0) {
            section.say("No early warning of leaving a band was given, and none was missing.");
        } else {
            auto const given = all.warnings.size();
            auto const came_true = static_cast<std::size_t>(all.came);
            std::string text;
            if (given > 0)
                text = counted(given, "early warning") + "; " +
                       (came_true == given ? given == 1 ? "it" : "all"
                        : came_true == 0   ? "none"
                                           : std::to_string(came_true)) +
                       " came true within 30 min" +
                       (came_true < given ? ". A warning that the cook acted on does not come true. " : ". ");
            if (all.unwarned > 0)
                text += "Out of the band by more than " + kelvin(0.5) + " without a warning before it: " +
                        (all.unwarned == 1 ? "once." : std::to_string(all.unwarned) + " times.");
            else
                text += "Nothing left its band by more than " + kelvin(0.5) + " without a warning.";
            section.say(std::move(text));
            std::string came;
            for (auto const& one : all.warnings)
                if (one.lead_s)
                    came += (came.empty() ? "Came true: " : "; ") + one.name + " of " + one.subject + " at " +
                            clock_.at(one.at) + ", after " + length_text(*one.lead_s);
            if (!came.empty()) section.say(came + ".");
        }
        if (all.core.empty()) {
            if (!record_.cores.empty())
                section.say("Of the core's target no forecast can be scored: " + why_none_is_scored());
            return;
        }
        auto const held = held_of(all.scored);
        auto const claim = " intervals that claimed " + percent(all.confidence);
        section.say("The core was at its target at " + clock_.at(*all.core_reached_s) + ". Its forecasts (" +
                    record_.outlooks_from + "): " + std::to_string(held.held) + " of " +
                    std::to_string(held.intervals) + claim + " held.");
        auto& table = section.table({"of the way", "forecast", "interval", "it took", "off by"});
        for (auto const& one : all.scored)
            table.rows.push_back(
                {percent(one.share), length_text(one.told_s),
                 one.low_s && one.high_s ? length_text(*one.low_s) + " to " + length_text(*one.high_s) : "-",
                 length_text(one.left_s), ahead_or_late(one.told_s - one.left_s)});
        if (table.rows.empty()) section.blocks.pop_back();
        auto const& told = record_.told_over_all;
        if (told.cooks > 1)
            section.say("Over the " + std::to_string(told.cooks) + " cooks of this logbook: of " +
                        std::to_string(told.intervals) + claim + ", " + std::to_string(told.held) + " held.");
    }

    void responses() {
        Section section{"how the vessels behaved", {}};
        auto& list = section.add(Block::Kind::list);
        for (auto const& one : facts_.responses) {
            std::string text;
            auto const add = [&](std::string part) { text += (text.empty() ? "" : "; ") + std::move(part); };
            if (one.warm_s && one.warm_from_c)
                add("from " + degrees(one.warm_from_c) + " to its band in " + length_text(*one.warm_s) +
                    (one.rate_k_per_min
                         ? ", " + slope_text(*one.rate_k_per_min, record_.units) + " on average"
                         : ""));
            if (one.lag_s && *one.lag_s > 1)
                add("moved by " + kelvin(1) + " after " + length_text(*one.lag_s));
            if (one.settle_s && *one.settle_s > 1)
                add("settled " + length_text(*one.settle_s) + " after first reaching the band");
            if (one.swing_k)
                add("swung by " + kelvin(*one.swing_k) + " (nine tenths of the time)" +
                    (one.period_s ? " every " + length_text(*one.period_s) : ""));
            if (one.recovery_s) add("back after a door in " + length_text(*one.recovery_s));
            if (one.time_constant_s) add("time constant " + length_text(*one.time_constant_s));
            if (!text.empty()) list.items.push_back(one.vessel + ": " + text + ".");
        }
        if (list.items.empty()) return;
        section.say("The gain of a knob is not known: nobody records where it stands.");
        doc_.sections.push_back(std::move(section));
    }

    void next() {
        if (facts_.next_time.empty()) return;
        doc_.section("for next time").add(Block::Kind::list).items = facts_.next_time;
    }

    CookRecord const& record_;
    CookFacts const& facts_;
    CookClock clock_;
    Doc doc_;
};

}  // namespace

Doc review_doc(CookRecord const& record, CookFacts const& facts) {
    return Page(record, facts).make();
}

}  // namespace ingle::cli
