#include "daemon/replay/lines.hpp"

#include <charconv>
#include <cmath>
#include <string_view>

#include "daemon/model/alarm.hpp"
#include "daemon/model/view.hpp"

namespace ingle {
namespace {

// A JSON object being written; keys come in the order in which they are added.
class Line {
public:
    Line& text(std::string_view key, std::string_view value) {
        begin(key);
        quote(value);
        return *this;
    }
    // `decimals`: kept; more would be an accident of arithmetic.
    Line& number(std::string_view key, std::optional<double> value, int decimals) {
        begin(key);
        if (!value || !std::isfinite(*value)) {
            text_ += "null";
            return *this;
        }
        char buffer[64];
        double const clean = *value == 0 ? 0.0 : *value;  // no "-0"
        auto const end =
            std::to_chars(buffer, buffer + sizeof buffer, clean, std::chars_format::fixed, decimals).ptr;
        std::string_view const written(buffer, static_cast<std::size_t>(end - buffer));
        text_ += written.find_first_not_of("-0.") == std::string_view::npos && written.front() == '-'
                     ? written.substr(1)
                     : written;
        return *this;
    }
    Line& raw(std::string_view key, std::string_view json) {
        begin(key);
        text_ += json;
        return *this;
    }
    std::string done() { return (text_.empty() ? "{" : text_) + "}"; }

private:
    void begin(std::string_view key) {
        text_ += text_.empty() ? "{" : ", ";
        quote(key);
        text_ += ": ";
    }
    void quote(std::string_view value) {
        constexpr char const* hex = "0123456789abcdef";
        text_ += '"';
        for (char const c : value) {
            auto const byte = static_cast<unsigned char>(c);
            if (c == '"' || c == '\\') {
                text_ += '\\';
                text_ += c;
            } else if (byte < 0x20) {
                text_ += "\\u00";
                text_ += hex[byte >> 4];
                text_ += hex[byte & 15];
            } else {
                text_ += c;
            }
        }
        text_ += '"';
    }
    std::string text_;
};

std::string verdict_list(std::vector<Verdict> const& verdicts) {
    std::string list;
    for (auto const& one : verdicts) {
        Line line;
        line.text("rule", one.rule).text("answer", one.answer).text("text", one.text);
        list += (list.empty() ? "" : ",") + line.text("source", one.source).done();
    }
    return "[" + list + "]";
}

Line begin_line(Instant start, Instant at, std::string_view kind) {
    Line line;
    line.number("t", seconds(at - start), (at - start).count() % 1000 == 0 ? 1 : 3).text("kind", kind);
    return line;
}

}  // namespace

std::string subject_name(Settings const& settings, Subject subject) {
    auto const name = [&](auto const& list) {
        auto const n = static_cast<std::size_t>(subject.number);
        return subject.number >= 0 && n < list.size() ? list[n].name : std::string();
    };
    switch (subject.kind) {
        case SubjectKind::kitchen:
            return "kitchen";
        case SubjectKind::probe:
            return name(settings.probes);
        case SubjectKind::vessel:
            return name(settings.vessels);
        case SubjectKind::dish:
            return name(settings.dishes);
    }
    return "";
}

std::optional<std::string> replay_line(Settings const& settings, Instant start, Effect const& effect) {
    if (auto const* change = std::get_if<AlarmChanged>(&effect)) {
        bool const raised = change->transition == Transition::raised;
        bool const worse = change->transition == Transition::worsened;
        if (!raised && !worse && change->transition != Transition::cleared) return std::nullopt;
        auto line = begin_line(start, change->at, "alarm");
        line.text("alarm", change->alarm.type->name)
            .text("subject", subject_name(settings, change->alarm.subject))
            .text("state", raised  ? "raised"
                           : worse ? "worsened"
                                   : "cleared")
            .text("priority", to_word(change->alarm.priority));
        if (!change->alarm.muted_by.empty()) line.text("muted_by", change->alarm.muted_by);
        if ((raised || worse) && change->alarm.action != Action::none)
            line.text("action", to_word(change->alarm.action));
        return line.text("text", change->alarm.text).done();
    }
    if (auto const* event = std::get_if<Event>(&effect)) {
        auto line = begin_line(start, event->at, "event");
        line.text("event", event->name).text("subject", subject_name(settings, event->subject));
        for (auto const& [key, value] : event->numbers) line.number(key, value, 3);
        return line.text("text", event->text).done();
    }
    if (auto const* forecast = std::get_if<Forecast>(&effect)) {
        auto line = begin_line(start, forecast->at, "forecast");
        line.text("what", forecast->what)
            .text("subject", subject_name(settings, forecast->subject))
            .number("eta_s", forecast->eta_s, 0)
            .number("low_s", forecast->low_s, 0)
            .number("high_s", forecast->high_s, 0)
            .number("confidence", forecast->confidence, 2);
        if (!forecast->why.empty()) line.text("why", forecast->why);
        return line.done();
    }
    return std::nullopt;
}

std::string summary_line(Settings const& settings, Instant start, Instant end, RunSummary const& summary) {
    Line vessels, dishes;
    bool begun = false;
    for (std::size_t v = 0; v < summary.vessels.size(); ++v) {
        auto const& s = summary.vessels[v];
        Line one;
        one.number("in_s", s.in_s, 0)
            .number("above_s", s.above_s, 0)
            .number("below_s", s.below_s, 0)
            .number("no_band_s", s.unbanded_s, 0)
            .number("no_data_s", s.no_data_s, 0)
            .number("min_c", s.min_c, 3)
            .number("mean_c", s.mean_c, 3)
            .number("max_c", s.max_c, 3);
        vessels.raw(settings.vessels[v].name, one.done());
    }
    for (std::size_t d = 0; d < summary.dishes.size(); ++d) {
        auto const& s = summary.dishes[d];
        if (!s.begun) continue;
        begun = true;
        Line one;
        one.number("peak_core_c", s.peak_core_c, 3)
            .number("lethality_log10", s.lethality_log10, 3)
            .number("danger_zone_s", s.danger_zone_s, 0)
            .number("danger_zone_possible_s", s.danger_zone_possible_s, 0)
            .text("cooling", s.cooling)
            .raw("verdicts", verdict_list(s.verdicts));
        dishes.raw(settings.dishes[d].name, one.done());
    }
    auto line = begin_line(start, end, "summary");
    line.raw("vessels", vessels.done()).raw("dishes", dishes.done());
    if (begun) line.text("caution", food_safety_caution);
    return line.done();
}

}  // namespace ingle
