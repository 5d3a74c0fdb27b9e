#include "tools/cli/schedule/schedule_text.hpp"

#include <algorithm>
#include <chrono>
#include <cmath>

#include "daemon/schedule/clock_text.hpp"
#include "tools/cli/output/text.hpp"
#include "tools/cli/time/local_time.hpp"

namespace ingle::cli {
namespace {

using schedule::DishPlan;
using schedule::Seconds;
using schedule::StagePlan;
using schedule::State;

WallTime wall(Seconds t) {
    return WallTime(std::chrono::seconds(t));
}

class Page {
public:
    explicit Page(Told const& told) : told_(told), at_(told.schedule.at) {}

    std::string text() {
        out_ = told_.settings.name + ", planned from " + schedule::day_text(told_.zone, at_) + " " +
               told_.zone.iso(wall(at_), "+00:00").substr(0, 10) + " " + clock(at_) + "\n\n";
        if (told_.schedule.dishes.empty())
            out_ += "No dish has both a plan and a serve-at: there is nothing to plan.\n";
        for (auto const& dish : told_.schedule.dishes) tell(dish);
        steps();
        auto const chart = schedule_chart(told_);
        if (!chart.empty()) out_ += "\n" + chart;
        conflicts();
        left_out();
        return out_;
    }

private:
    std::string clock(Seconds t) const { return schedule::clock_text(told_.zone, t, at_); }
    std::string name(int dish) const { return told_.settings.dishes[static_cast<std::size_t>(dish)].name; }
    void paragraph(std::string const& text, std::string_view indent) {
        out_ += wrapped(text, told_.width, indent) + "\n";
    }

    void tell(DishPlan const& dish) {
        std::string line = name(dish.dish) + ": ";
        if (dish.serve_at) line += clock(*dish.serve_at) + ", ";
        switch (dish.state) {
            case State::impossible:
                line += "cannot be done.";
                break;
            case State::late:
                line += "LATE: ready at " + clock(*dish.ready_at) + ", " +
                        length_text(static_cast<double>(*dish.ready_at - *dish.serve_at)) + " too late.";
                break;
            case State::tight:
                line += dish.chance ? "tight: " + chance_text(*dish.chance) + "." : "how sure is not known.";
                break;
            case State::fits:
                line += !dish.serve_at ? "no serve-at; ready at " + clock(*dish.ready_at) + "."
                                       : chance_text(*dish.chance) + ".";
        }
        if (dish.ready_early && dish.ready_late && *dish.ready_late > *dish.ready_early)
            line += " Ready between " + clock(*dish.ready_early) + " and " + clock(*dish.ready_late) +
                    "; later 1 time in 10.";
        if (dish.serve_at && dish.ready_at && *dish.ready_at < *dish.serve_at)
            line +=
                " Ready at " + clock(*dish.ready_at) + " already: its plan has no place where it may wait.";
        if (!dish.stages.empty() && !dish.stages.front().began)
            line += " Begin " + clock(dish.stages.front().begin) +
                    (dish.stages.front().latest_begin > dish.stages.front().begin
                         ? ", at the latest " + clock(dish.stages.front().latest_begin) + ": less sure then."
                         : ".");
        paragraph(line, "");
        for (auto const& stage : dish.stages)
            if (!stage.length.known)
                paragraph(stage.stage + ": its length is " + stage.length.source + ".", "    ");
        for (auto const& note : dish.notes) paragraph(note + ".", "    ");
        for (auto const& advice : dish.advice) paragraph("To be surer: " + advice + ".", "    ");
    }

    struct Step {
        DishPlan const* dish;
        StagePlan const* stage;
    };
    std::string lasts(StagePlan const& stage) const {
        auto const stays = static_cast<double>(stage.end - stage.begin);
        if (!stage.length.known) return "not known";
        if (schedule::may_wait(stage.phase) && stays > stage.length.likely)
            return "until " + clock(stage.end);
        auto text = length_text(stage.length.likely);
        if (!stage.length.exact())
            text += " (" + length_text(stage.length.low) + " to " + length_text(stage.length.high) + ")";
        return text;
    }
    void steps() {
        std::vector<Step> steps;
        for (auto const& dish : told_.schedule.dishes)
            for (auto const& stage : dish.stages) steps.push_back({&dish, &stage});
        if (steps.empty()) return;
        std::ranges::stable_sort(steps, {}, [](Step const& step) { return step.stage->begin; });
        Table table;
        table.row({"when", "dish", "stage", "in", "lasts", "your hands", "by"});
        for (auto const& [dish, stage] : steps) {
            auto const vessel = stage->vessel < 0
                                    ? std::string("-")
                                    : told_.settings.vessels[static_cast<std::size_t>(stage->vessel)].name;
            table.row({stage->began ? "since " + clock(stage->begin) : clock(stage->begin), name(dish->dish),
                       stage->stage, vessel, lasts(*stage),
                       stage->hands > 0 ? length_text(static_cast<double>(stage->hands)) : "-",
                       stage->length.source});
        }
        out_ += "\n";
        if (auto const text = table.text(""); fits(text))
            out_ += text;
        else
            for (auto const& [dish, stage] : steps) paragraph(in_words(*dish, *stage), "");
    }
    bool fits(std::string_view text) const {
        while (!text.empty()) {
            auto const end = std::min(text.find('\n'), text.size());
            if (width_of(text.substr(0, end)) > told_.width) return false;
            text.remove_prefix(std::min(end + 1, text.size()));
        }
        return true;
    }
    // A row of the table where its columns have no room.
    std::string in_words(DishPlan const& dish, StagePlan const& stage) const {
        auto text =
            (stage.began ? "since " : "") + clock(stage.begin) + "  " + name(dish.dish) + ": " + stage.stage;
        if (stage.vessel >= 0)
            text += " in " + told_.settings.vessels[static_cast<std::size_t>(stage.vessel)].name;
        text += ", " + lasts(stage);
        if (stage.hands > 0) text += ", your hands " + length_text(static_cast<double>(stage.hands));
        return text + ", by " + stage.length.source;
    }
    void conflicts() {
        for (auto const& conflict : told_.schedule.conflicts) {
            out_ += "\n";
            auto const from = clock(conflict.when.from), to = clock(conflict.when.to);
            auto sentence = conflict.text;
            if (conflict.about == schedule::About::vessel ||
                (conflict.about == schedule::About::hands && conflict.dishes.size() > 1))
                sentence += ", from " + from + " to " + to;
            paragraph("In the way: " + sentence + ".", "");
            if (conflict.remedies.empty() && conflict.tried)
                paragraph("Nothing that was tried resolves it.", "    ");
            else if (!conflict.tried && !conflict.remedies.empty())
                paragraph("What can be done:", "  ");
            else if (conflict.tried)
                paragraph("What helps, the least change first; each was tried:", "  ");
            for (auto const& remedy : conflict.remedies) paragraph("- " + remedy, "    ");
        }
    }
    void left_out() {
        if (told_.schedule.left_out.empty()) return;
        out_ += "\n";
        for (auto const& left : told_.schedule.left_out)
            paragraph("Not planned: " + name(left.dish) + ", because " + left.why + ".", "");
    }

    Told const& told_;
    Seconds at_;
    std::string out_;
};

}  // namespace

std::string chance_text(double chance) {
    if (chance > 0.985) return "as good as certain";
    if (chance < 0.05) return "hardly a chance";
    return std::to_string(std::clamp(static_cast<int>(std::floor(chance * 10 + 0.25)), 1, 9)) + " in 10";
}

std::string schedule_text(Told const& told) {
    return Page(told).text();
}

}  // namespace ingle::cli
