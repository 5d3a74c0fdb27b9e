#include <algorithm>
#include <array>
#include <chrono>

#include "daemon/schedule/clock_text.hpp"
#include "tools/cli/output/text.hpp"
#include "tools/cli/schedule/schedule_text.hpp"
#include "tools/cli/time/time_ticks.hpp"

namespace ingle::cli {
namespace {

using schedule::Seconds;
using schedule::StagePlan;

constexpr std::size_t least_width = 30, tick_width = 10;

class Chart {
public:
    explicit Chart(Told const& told) : told_(told) {
        for (auto const& dish : told.schedule.dishes)
            for (auto const& stage : dish.stages) {
                from_ = std::min(from_, std::max(stage.begin, told.schedule.at)),
                to_ = std::max(to_, high_end(stage));
                any_ = true;
            }
        to_ = std::max(to_, from_ + 60);
        for (auto const& vessel : told.settings.vessels) label_ = std::max(label_, width_of(vessel.name));
        columns_ = std::max(least_width, told.width > label_ + 3 ? told.width - label_ - 3 : 0);
    }

    std::string text() {
        if (!any_) return "";
        for (std::size_t v = 0; v < told_.settings.vessels.size(); ++v)
            rows_of(static_cast<int>(v), told_.settings.vessels[v].name);
        rows_of(-1, "elsewhere");
        hands();
        axis();
        legend();
        return out_;
    }

private:
    static Seconds high_end(StagePlan const& stage) {
        if (schedule::may_wait(stage.phase) || !stage.length.known) return stage.end;
        return std::max(stage.end, stage.begin + static_cast<Seconds>(stage.length.high));
    }
    static Seconds low_end(StagePlan const& stage) {
        if (schedule::may_wait(stage.phase)) return stage.end;
        return stage.length.known ? std::min(stage.end, stage.begin + static_cast<Seconds>(stage.length.low))
                                  : stage.begin;
    }
    std::size_t column(Seconds t) const {
        auto const share =
            static_cast<double>(std::clamp(t, from_, to_) - from_) / static_cast<double>(to_ - from_);
        return std::min(columns_ - 1, static_cast<std::size_t>(share * static_cast<double>(columns_)));
    }
    static char letter(std::size_t dish) { return static_cast<char>('A' + dish % 26); }

    void draw(std::string& row, StagePlan const& stage, std::size_t dish) const {
        auto const sure = column(low_end(stage)), likely = column(stage.end), most = column(high_end(stage));
        for (auto c = likely; c <= most && high_end(stage) > stage.end; ++c)
            if (row[c] == ' ') row[c] = '.';
        auto const small = static_cast<char>(letter(dish) - 'A' + 'a');
        auto const begin = column(stage.begin);
        for (auto c = begin; c < std::max(likely, begin + 1); ++c)
            row[c] = c < sure || c == begin ? letter(dish) : small;
    }
    // Each dish on the first line that is free.
    void rows_of(int vessel, std::string const& name) {
        std::vector<std::string> rows;
        std::vector<Seconds> free;
        for (std::size_t d = 0; d < told_.schedule.dishes.size(); ++d)
            for (auto const& stage : told_.schedule.dishes[d].stages) {
                if (stage.vessel != vessel || stage.end <= std::max(stage.begin, from_)) continue;
                std::size_t line = 0;
                while (line < rows.size() && !is_free(rows[line], stage)) ++line;
                if (line == rows.size()) rows.emplace_back(columns_, ' ');
                draw(rows[line], stage, d);
            }
        for (std::size_t line = 0; line < rows.size(); ++line) add_row(line == 0 ? name : "", rows[line]);
    }
    bool is_free(std::string const& row, StagePlan const& stage) const {
        auto const begin = column(stage.begin), end = std::max(column(stage.end), begin + 1);
        return std::all_of(row.begin() + static_cast<std::ptrdiff_t>(begin),
                           row.begin() + static_cast<std::ptrdiff_t>(end),
                           [](char c) { return c == ' ' || c == '.'; });
    }
    void hands() {
        std::string row(columns_, ' ');
        for (auto const& night : told_.schedule.nights)
            if (night.to > from_ && night.from < to_)
                for (auto c = column(night.from); c < column(night.to) || (night.to >= to_ && c < columns_);
                     ++c)
                    row[c] = '-';
        for (std::size_t d = 0; d < told_.schedule.dishes.size(); ++d)
            for (auto const& stage : told_.schedule.dishes[d].stages) {
                if (stage.began || !(stage.attended || stage.hands > 0)) continue;
                auto const begin = column(stage.begin);
                for (auto c = begin; c < std::max(begin + 1, column(stage.begin + stage.hands)); ++c)
                    row[c] = letter(d);
            }
        add_row("hands", row);
    }
    void add_row(std::string const& name, std::string row) {
        row.erase(row.find_last_not_of(' ') + 1);
        out_ += name + std::string(label_ - width_of(name), ' ') + " |" + row + "\n";
    }
    void axis() {
        auto const step =
            static_cast<Seconds>(time_step(static_cast<double>(to_ - from_), columns_ / tick_width));
        auto const local = told_.zone.local(WallTime(std::chrono::seconds(from_))).time_since_epoch();
        auto const offset = std::chrono::duration_cast<std::chrono::seconds>(local).count() - from_;
        std::string row(columns_ + tick_width, ' ');
        std::size_t free = 0;
        for (auto t = ((from_ + offset) / step + 1) * step - offset; t < to_; t += step) {
            auto const text = schedule::clock_text(told_.zone, t, told_.schedule.at);
            auto const at = column(t);
            if (at < free) continue;
            row.replace(at, text.size(), text);
            free = at + text.size() + 1;
        }
        row.erase(row.find_last_not_of(' ') + 1);
        out_ += std::string(label_, ' ') + "  " + row + "\n";
    }
    void legend() {
        std::string text;
        for (std::size_t d = 0; d < told_.schedule.dishes.size(); ++d)
            if (auto const& dish = told_.schedule.dishes[d]; !dish.stages.empty())
                text += std::string(1, letter(d)) + " " +
                        told_.settings.dishes[static_cast<std::size_t>(dish.dish)].name + ", ";
        text += "small letters: may be over by then, dots: may take so long";
        if (!told_.schedule.nights.empty()) text += ", -: nobody is there";
        out_ += wrapped(text, told_.width, std::string(label_ + 2, ' ')) + "\n";
    }

    Told const& told_;
    Seconds from_ = std::numeric_limits<Seconds>::max(), to_ = 0;
    bool any_ = false;
    std::size_t label_ = 9, columns_ = least_width;
    std::string out_;
};

}  // namespace

std::string schedule_chart(Told const& told) {
    return Chart(told).text();
}

}  // namespace ingle::cli
