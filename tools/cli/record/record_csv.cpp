// The record of a day as CSV: one line for each thing that was measured or noted.
#include <array>
#include <cmath>

#include "config/plain_text.hpp"
#include "tools/cli/output/text.hpp"
#include "tools/cli/record/record_forms.hpp"
#include "tools/cli/time/local_time.hpp"

namespace ingle::cli {
namespace {

enum Column {
    form,
    subject,
    cook,
    probe,
    item,
    at,
    temperature,
    minutes,
    limit,
    limit_minutes,
    answer,
    by,
    words,
    columns
};

// One that a spreadsheet would take for a formula is marked as text.
std::string text_cell(std::string_view given) {
    auto text = plain_text(given);
    if (!text.empty() && std::string_view("=+-@\t").find(text.front()) != std::string_view::npos)
        text.insert(text.begin(), '\'');
    if (text.find_first_of(",\"\r\n") == std::string::npos) return text;
    std::string out = "\"";
    for (char const c : text) out.append(c == '"' ? 2 : 1, c);
    return out + "\"";
}

class Lines {
public:
    explicit Lines(DayRecord const& record) : record_(record) {
        auto const unit = " [" + std::string(unit_name(record.units)) + "]";
        out_ = "form,subject,cook,probe,item,at,temperature" + unit + ",minutes,limit" + unit +
               ",limit minutes,answer,by,words\r\n";
    }

    std::string make() {
        begin("record");
        row_[item] = "kitchen";
        row_[words] = text_cell(record_.kitchen);
        end();
        moment("record", "from", record_.day.span.from);
        moment("record", "to", record_.day.until);
        begin("record");
        row_[item] = "caution";
        row_[words] = text_cell(record_caution());
        end();
        for (auto const& row : record_.cooking) add(row);
        for (auto const& row : record_.cooling) add(row);
        for (auto const& row : record_.holding) add(row);
        for (auto const& hole : record_.holes) {
            begin("not read");
            row_[probe] = text_cell(hole.probe);
            row_[item] = "hole";
            row_[at] = local_iso(hole.from);
            row_[minutes] = in_minutes(seconds(hole.to - hole.from));
            row_[words] = text_cell(hole.reason);
            end();
        }
        for (auto const& one : record_.calibrations) add(one);
        for (auto const& row : record_.actions) add(row);
        for (auto const& note : record_.notes) {
            begin("note");
            row_[subject] = text_cell(note.subject);
            row_[item] = "note";
            row_[at] = local_iso(note.at);
            row_[words] = text_cell(note.text);
            end();
        }
        return std::move(out_);
    }

private:
    void begin(char const* name) {
        row_ = {};
        row_[form] = name;
    }
    void end() {
        for (std::size_t i = 0; i < columns; ++i) out_ += (i == 0 ? "" : ",") + row_[i];
        out_ += "\r\n";
    }
    void moment(char const* name, char const* what, WallTime when) {
        begin(name);
        row_[item] = what;
        row_[at] = local_iso(when);
        end();
    }
    std::string degrees(std::optional<double> c) const {
        return c ? fixed(to_unit(Temperature{*c}, record_.units), 2) : "";
    }
    static std::string in_minutes(std::optional<double> s) { return s ? fixed(*s / 60, 2) : ""; }
    static std::string iso(std::optional<WallTime> const& when) { return when ? local_iso(*when) : ""; }

    void add(CookingEntry const& row) {
        auto const line = [&](char const* what) {
            begin("cooking");
            row_[subject] = text_cell(row.dish);
            row_[cook] = std::to_string(row.cook);
            row_[probe] = text_cell(row.probe);
            row_[item] = what;
        };
        line("begin");
        row_[at] = local_iso(row.began);
        row_[words] = text_cell(row.food + (row.clock_certain ? "" : " (clock uncertain)"));
        end();
        line("end");
        row_[at] = iso(row.ended);
        end();
        line("highest core");
        if (row.highest)
            row_[at] = local_iso(row.highest->at), row_[temperature] = degrees(row.highest->celsius);
        end();
        line("core target");
        row_[at] = iso(row.reached);
        row_[limit] = degrees(row.asked_c);
        row_[limit_minutes] = in_minutes(row.asked_hold_s);
        row_[answer] = text_cell(row.answer);
        row_[words] = text_cell(row.rule);
        end();
    }

    void add(CoolingEntry const& row) {
        auto const line = [&](char const* what) {
            begin("cooling");
            row_[subject] = text_cell(row.dish);
            row_[cook] = std::to_string(row.cook);
            row_[probe] = text_cell(row.probe);
            row_[item] = what;
        };
        line("begin");
        row_[at] = iso(row.from);
        row_[temperature] = row.from ? degrees(row.from_c) : "";
        row_[words] = text_cell(row.rule);
        end();
        for (auto const& step : row.steps) {
            line("limit passed");
            row_[at] = iso(step.at);
            row_[minutes] = in_minutes(step.took_most_s);
            row_[limit] = degrees(step.limit_c);
            row_[limit_minutes] = in_minutes(step.allowed_s);
            row_[answer] = text_cell(step.answer);
            end();
        }
    }

    void add(HoldingEntry const& row) {
        auto const line = [&](char const* what) {
            begin(row.hot ? "hot holding" : "cold holding");
            row_[subject] = text_cell(row.name);
            if (row.cook) row_[cook] = std::to_string(*row.cook);
            row_[probe] = text_cell(row.probe);
            row_[item] = what;
        };
        for (auto const& [what, one] :
             {std::pair("lowest", &row.lowest), std::pair("highest", &row.highest)}) {
            line(what);
            if (*one) row_[at] = local_iso((*one)->at), row_[temperature] = degrees((*one)->celsius);
            end();
        }
        line("kept");
        row_[minutes] = in_minutes(row.held_s);
        end();
        line(row.hot ? "below limit" : "above limit");
        row_[minutes] = in_minutes(row.beyond_s);
        row_[limit] = degrees(row.limit_c);
        end();
        line("not read");
        row_[minutes] = in_minutes(row.unread_s);
        end();
    }

    void add(CalibrationEntry const& one) {
        for (std::size_t i = 0; i < std::max<std::size_t>(1, one.points.size()); ++i) {
            begin("calibration");
            row_[probe] = text_cell(one.probe);
            row_[item] = one.points.empty() ? "taken away" : "read";
            row_[at] = local_iso(one.since);
            if (!one.points.empty()) {
                row_[temperature] = degrees(one.points[i].first);
                row_[words] = "was " + degrees(one.points[i].second);
            }
            end();
        }
    }

    void add(ActionEntry const& row) {
        auto const line = [&](std::string const& what, std::optional<WallTime> const& when) {
            begin("corrective action");
            row_[subject] = text_cell(row.subject);
            row_[item] = text_cell(row.name + " " + std::to_string(row.alarm) + " " + what);
            row_[at] = iso(when);
        };
        line("raised", row.raised);
        row_[words] = text_cell(row.text);
        end();
        for (auto const& act : row.acts) {
            line(act.what, act.at);
            row_[by] = text_cell(act.by);
            end();
        }
        line("over", row.cleared);
        end();
    }

    DayRecord const& record_;
    std::array<std::string, columns> row_;
    std::string out_;
};

}  // namespace

std::string record_csv(DayRecord const& record) {
    return Lines(record).make();
}

}  // namespace ingle::cli
