// Two cooks side by side over elapsed time, with the differences that matter first.
#include <algorithm>
#include <array>
#include <cmath>

#include "tools/cli/output/text.hpp"
#include "tools/cli/review/review_doc.hpp"
#include "tools/cli/time/local_time.hpp"

namespace ingle::cli {
namespace {

struct Line {  // of the comparison; numbers where there are any, so that the difference can be told
    std::string what, a, b, difference;
    std::optional<double> first, second;
};

std::string signed_length(double s) {
    if (std::abs(s) < 1) return "the same";
    return (s > 0 ? "+" : "-") + length_text(std::abs(s));
}

class Comparison {
public:
    Comparison(Reviewed const& a, Reviewed const& b) : a_(a), b_(b), unit_(a.record.units) {
        lengths("whole cook", a.record.length_s, b.record.length_s);
        reaching();
        shares();
        cores();
        counts();
        verdicts();
    }
    std::vector<Line> const& lines() const { return lines_; }

private:
    void lengths(std::string what, std::optional<double> first, std::optional<double> second) {
        if (!first && !second) return;
        auto const text = [](std::optional<double> s) { return s ? length_text(*s) : std::string("-"); };
        lines_.push_back({std::move(what), text(first), text(second),
                          first && second ? signed_length(*second - *first) : "-", first, second});
    }
    void texts(std::string what, std::string a, std::string b) {
        bool const same = a == b;
        lines_.push_back(
            {std::move(what), std::move(a), std::move(b), same ? "the same" : "differs", {}, {}});
    }

    static BandFacts const* longest(CookFacts const& facts, std::string const& stage,
                                    CookRecord const& record) {
        BandFacts const* found = nullptr;
        for (auto const& band : facts.bands)
            if (record.stages[band.stage].name == stage &&
                (!found || band.to - band.from > found->to - found->from))
                found = &band;
        return found;
    }
    std::array<Reviewed const*, 2> both() const { return {&a_, &b_}; }
    std::vector<std::string> stages() const {
        std::vector<std::string> names;
        for (auto const* one : both())
            for (auto const& stage : one->record.stages)
                if (std::ranges::find(names, stage.name) == names.end()) names.push_back(stage.name);
        return names;
    }
    static std::optional<double> length_of(CookRecord const& record, std::string const& stage) {
        std::optional<double> sum;
        for (auto const& one : record.stages)
            if (one.name == stage) sum = sum.value_or(0) + one.ended - one.began;
        return sum;
    }

    void reaching() {
        for (auto const& stage : stages()) {
            lengths(stage + ": took", length_of(a_.record, stage), length_of(b_.record, stage));
            auto const *first = longest(a_.facts, stage, a_.record),
                       *second = longest(b_.facts, stage, b_.record);
            if (!first && !second) continue;
            auto const never = [](BandFacts const* band, std::string& text) {
                if (band && !band->reached_s) text = "never";
            };
            Line line{stage + ": in its band after", "-", "-", "-", {}, {}};
            if (first && first->reached_s) line.a = length_text(*(line.first = first->reached_s));
            if (second && second->reached_s) line.b = length_text(*(line.second = second->reached_s));
            if (line.first && line.second) line.difference = signed_length(*line.second - *line.first);
            never(first, line.a);
            never(second, line.b);
            lines_.push_back(std::move(line));
        }
    }

    void shares() {
        for (auto const& stage : stages()) {
            auto const *first = longest(a_.facts, stage, a_.record),
                       *second = longest(b_.facts, stage, b_.record);
            if (!first && !second) continue;
            auto const share = [](BandFacts const* band) { return band ? band->share() : std::nullopt; };
            auto const text = [](std::optional<double> value) {
                return value ? std::to_string(std::lround(100 * *value)) + " %" : std::string("-");
            };
            auto const x = share(first), y = share(second);
            std::string difference = "-";
            if (x && y) {
                auto const points = std::lround(100 * *y) - std::lround(100 * *x);
                difference =
                    points == 0 ? "the same" : (points > 0 ? "+" : "") + std::to_string(points) + " points";
            }
            lines_.push_back({stage + ": in band", text(x), text(y), difference, x, y});
            auto const area = [](BandFacts const* band) {
                std::optional<double> sum;
                if (band && band->reached_s) sum = 0;
                if (sum)
                    for (auto const& one : band->excursions) *sum += one.area_k_min;
                return sum;
            };
            double const scale = unit_ == TemperatureUnit::fahrenheit ? 1.8 : 1;
            auto const words = [&](std::optional<double> k_min) {
                return k_min ? std::to_string(std::lround(*k_min * scale)) + " " +
                                   std::string(unit_name(unit_)) + " min"
                             : std::string("-");
            };
            auto const p = area(first), q = area(second);
            if (p.value_or(0) > 0 || q.value_or(0) > 0)
                lines_.push_back({stage + ": outside, area", words(p), words(q),
                                  p && q ? (*q > *p ? "+" : "") + words(*q - *p) : "-", p, q});
        }
    }

    void cores() {
        auto const reached = [](Reviewed const& one) {
            if (one.facts.forecasts.core_reached_s) return length_text(*one.facts.forecasts.core_reached_s);
            if (one.record.cores.empty()) return std::string("-");
            return std::string(one.facts.forecasts.core_came_unseen ? "unread" : "not seen");
        };
        auto const first = a_.facts.forecasts.core_reached_s, second = b_.facts.forecasts.core_reached_s;
        if (first || second)
            lines_.push_back({"core at its target after", reached(a_), reached(b_),
                              first && second ? signed_length(*second - *first) : "-", first, second});
        auto const peak = [](CookFacts const& facts) {
            std::optional<double> least;
            for (auto const& core : facts.food.cores)
                if (core.seen) least = std::min(least.value_or(core.peak.celsius), core.peak.celsius);
            return least;
        };
        auto const x = peak(a_.facts), y = peak(b_.facts);
        if (x || y)
            lines_.push_back({"highest core", temperature_text(x, unit_), temperature_text(y, unit_),
                              x && y ? show(TemperatureDifference{*y - *x}, unit_) : "-", x, y});
    }

    void counts() {
        auto const count = [&](std::string what, std::size_t x, std::size_t y) {
            auto const difference = static_cast<long>(y) - static_cast<long>(x);
            lines_.push_back(
                {std::move(what), std::to_string(x), std::to_string(y),
                 difference == 0 ? "the same" : (difference > 0 ? "+" : "") + std::to_string(difference),
                 static_cast<double>(x), static_cast<double>(y)});
        };
        count("alarms", a_.facts.alarms.size(), b_.facts.alarms.size());
        count("doors opened", a_.facts.doors.size(), b_.facts.doors.size());
        lengths("without readings", blind_s(a_.facts.gaps), blind_s(b_.facts.gaps));
    }

    void verdicts() {
        std::vector<std::string> rules;
        for (auto const* one : both())
            for (auto const& verdict : one->facts.food.verdicts)
                if (std::ranges::find(rules, verdict.rule) == rules.end()) rules.push_back(verdict.rule);
        auto const answer = [](CookFacts const& facts, std::string const& rule) {
            auto const found = std::ranges::find(facts.food.verdicts, rule, &Verdict::rule);
            return found == facts.food.verdicts.end() ? std::string("-") : found->answer;
        };
        for (auto const& rule : rules) texts(rule, answer(a_.facts, rule), answer(b_.facts, rule));
    }

    Reviewed const &a_, &b_;
    TemperatureUnit unit_;
    std::vector<Line> lines_;
};

Block chart(Reviewed const& a, Reviewed const& b, bool of_cores) {
    SvgChart chart;
    auto const unit = a.record.units;
    chart.to = std::max({a.record.length_s, b.record.length_s, 1.0});
    chart.unit = unit_name(unit);
    chart.id = of_cores ? "cores" : "media";
    chart.time_label = [](double t) { return elapsed_text(t, false); };
    int style = 0;
    std::array<Reviewed const*, 2> const both{&a, &b};
    for (auto const* one : both) {
        std::string const which = one == &a ? "A: " : "B: ";
        if (of_cores) {
            for (auto const& core : one->record.cores)
                chart.lines.push_back(
                    chart_line(core, which + core.probe, style++ % 4, unit, 0, one->record.length_s));
        } else {
            for (auto const& vessel : one->record.vessels)
                if (!vessel.medium.probe.empty())
                    chart.lines.push_back(chart_line(vessel.medium,
                                                     which + vessel.medium.probe + " (" + vessel.name + ")",
                                                     style++ % 4, unit, 0, one->record.length_s));
        }
    }
    if (!of_cores)
        for (auto const& band : a.facts.bands)
            chart.bands.push_back(
                {band.from, band.to, to_unit(band.band.low, unit), to_unit(band.band.high, unit)});
    chart.description = std::string(of_cores ? "The cores" : "What was around the food") +
                        " of both cooks over the time since each began." +
                        (of_cores ? "" : " Shaded: the band of A.");
    Block block;
    block.kind = Block::Kind::chart;
    bool const any = std::ranges::any_of(chart.lines, [](auto const& line) { return !line.runs.empty(); });
    if (!any) return block;
    block.wide = svg_chart(chart, false);
    block.narrow = svg_chart(chart, true);
    return block;
}

}  // namespace

Doc compare_doc(Reviewed const& a, Reviewed const& b) {
    Doc doc;
    doc.title = a.record.title + " and " + b.record.title + ": two cooks compared";
    doc.subtitle = "A: " + a.record.title + ", " + time_text(a.record.began) + ". B: " + b.record.title +
                   ", " + time_text(b.record.began) + ". Times count from the start of each.";
    auto& section = doc.section("what differs");
    section.add(Block::Kind::caution, a.facts.food.caution);
    Comparison const comparison(a, b);
    auto& table = section.table({"", "A", "B", "B against A"});
    for (auto const& line : comparison.lines())
        table.rows.push_back({line.what, line.a, line.b, line.difference});
    for (bool const of_cores : {true, false}) {
        auto block = chart(a, b, of_cores);
        if (!block.wide.empty())
            doc.section(of_cores ? "the cores" : "around the food").blocks.push_back(std::move(block));
    }
    doc.section("more").say("`ingle review` of each shows where these numbers come from.");
    return doc;
}

Json compare_json(Reviewed const& a, Reviewed const& b) {
    Comparison const comparison(a, b);
    Json lines = Json::array();
    for (auto const& line : comparison.lines()) {
        auto const side = [](std::optional<double> number, std::string const& text) {
            return number ? Json(*number) : Json(text);
        };
        lines.push_back({{"what", line.what},
                         {"a", side(line.first, line.a)},
                         {"b", side(line.second, line.b)},
                         {"difference", line.difference}});
    }
    return {
        {"a", a.record.title}, {"b", b.record.title}, {"caution", a.facts.food.caution}, {"lines", lines}};
}

}  // namespace ingle::cli
