#include "tools/cli/setup/plan_check.hpp"

#include <sstream>

#include "daemon/food/classes.hpp"

namespace ingle::cli {
namespace {

std::string both(Temperature t, TemperatureUnit unit) {
    auto const other =
        unit == TemperatureUnit::celsius ? TemperatureUnit::fahrenheit : TemperatureUnit::celsius;
    return show(t, unit, 0) + " (" + show(t, other, 0) + ")";
}

class Doubts {
public:
    explicit Doubts(PlanSettings const& plan) : plan_(plan), unit_(unit_of(plan.text)) {}

    std::vector<ConfigError> all() {
        for (std::size_t i = 0; i < plan_.stages.size(); ++i) {
            names(i);
            held(plan_.stages[i]);
            ends(plan_.stages[i]);
        }
        return std::move(found_);
    }

private:
    void add(StageSettings const& stage, char const* key, std::string wrong, std::string right) {
        found_.push_back(
            {stage.where, "stage." + stage.name + "." + key, std::move(wrong), std::move(right)});
    }
    void names(std::size_t i) {
        auto const& stage = plan_.stages[i];
        for (std::size_t k = 0; k < i; ++k)
            if (plan_.stages[k].name == stage.name)
                return add(stage, "name", "is the name of an earlier stage, too",
                           "another name, so that it is clear which one runs");
    }
    void held(StageSettings const& stage) {
        if (!stage.band) return;
        // The milder of the published limits: below it no rule calls it held.
        Temperature const hot{hot_hold_limits()[1].celsius()}, cold{cold_hold_limits()[1].celsius()};
        constexpr double reading_k = 0.1;
        if (stage.does == Does::hot_hold && stage.band->low.celsius < hot.celsius - reading_k)
            add(stage, "band", "lets food that is held hot come to " + both(stage.band->low, unit_),
                "at " + both(hot, unit_) + " or above (" + std::string(hot_hold_limits()[1].source) + ")");
        bool const held_cold = stage.does == Does::cold_hold || stage.does == Does::chill;
        if (held_cold && stage.band->high.celsius > cold.celsius + reading_k)
            add(stage, "band",
                "lets food that is " + std::string(stage.does == Does::chill ? "chilled" : "held cold") +
                    " stay at " + both(stage.band->high, unit_),
                "at " + both(cold, unit_) + " or below (" + std::string(cold_hold_limits()[1].source) + ")");
    }
    void ends(StageSettings const& stage) {
        auto const& until = stage.until;
        bool const cools = stage.does == Does::chill || stage.does == Does::cold_hold;
        if (until.time && until.time->seconds <= 0)
            add(stage, "until.time", "is no time: the stage is over as it begins",
                "a time, such as \"20 min\"");
        if (until.core && cools && until.core->celsius > hot_hold_limits()[1].celsius())
            add(stage, "until.core", both(*until.core, unit_) + " is no core that food is chilled to",
                "at " + both({cold_hold_limits()[1].celsius()}, unit_) + " or below");
        if (until.core && stage.band && !cools && until.core->celsius >= stage.band->high.celsius)
            add(stage, "until.core",
                both(*until.core, unit_) + " is not below the top of the band, " +
                    both(stage.band->high, unit_) + ": the stage never ends",
                "a lower core, or a hotter band");
    }

    PlanSettings const& plan_;
    TemperatureUnit unit_;
    std::vector<ConfigError> found_;
};

}  // namespace

std::vector<ConfigError> doubts_of(PlanSettings const& plan) {
    return Doubts(plan).all();
}

bool is_plan_alone(std::string const& text) {
    std::istringstream lines(text);
    for (std::string line; std::getline(lines, line);) {
        auto const at = line.find_first_not_of(" \t");
        if (at == std::string::npos || line[at] != '[') continue;
        auto const name = line.find_first_not_of("[ \t", at);
        if (name == std::string::npos || line.compare(name, 5, "stage") != 0) return false;
    }
    return true;
}

bool says_nothing(std::string const& text) {
    std::istringstream lines(text);
    for (std::string line; std::getline(lines, line);) {
        auto const at = line.find_first_not_of(" \t\r");
        if (at != std::string::npos && line[at] != '#') return false;
    }
    return true;
}

TemperatureUnit unit_of(std::string const& text) {
    bool const fahrenheit = text.find("degF") != std::string::npos || text.find("°F") != std::string::npos;
    bool const celsius = text.find("degC") != std::string::npos || text.find("°C") != std::string::npos;
    return celsius && !fahrenheit ? TemperatureUnit::celsius : TemperatureUnit::fahrenheit;
}

}  // namespace ingle::cli
