// The page of one dish: all that the rules say of its food.
#include "tools/cli/live/now_text.hpp"
#include "tools/cli/live/view_parts.hpp"

namespace ingle::cli {

std::string dish_page(Json const& now, Json const& dish, Terminal const& terminal) {
    auto const unit = unit_of(now);
    auto const width = terminal.width;
    auto out = terminal.strong(word(dish, "name"));
    if (auto const vessel = word(dish, "vessel"); !vessel.empty()) out += " in " + vessel;
    if (!dish.value("begun", false)) return out + ": not begun\n";
    out += "\n";
    add_line(out, dish_state_text(dish, 0, unit, now), width);
    auto const core = dish.value("core", Json::object());
    if (!word(core, "probe").empty()) add_line(out, why_no_value(core), width);
    add_line(out, forecast_text(dish.value("forecast", Json()), 0, now), width);
    for (auto const& verdict : list(dish, "verdicts")) {
        auto line = word(verdict, "rule") + ": " + word(verdict, "answer") + ". " + word(verdict, "text");
        if (auto const source = word(verdict, "source"); !source.empty()) line += " [" + source + "]";
        out += "\n";
        add_line(out, line, width);
    }
    if (auto const caution = word(dish, "caution"); !caution.empty())
        out += "\n" + wrapped(caution, width, "  ") + "\n";
    return out;
}

}  // namespace ingle::cli
