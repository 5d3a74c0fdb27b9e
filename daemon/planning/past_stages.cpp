#include "daemon/planning/past_stages.hpp"

#include <algorithm>

#include "daemon/schedule/jobs.hpp"

namespace ingle::schedule {
namespace {

using logbook::EventRow;

std::optional<double> number_in(EventRow const& event, std::string_view key) {
    auto const found = std::ranges::find(event.numbers, key, &std::pair<std::string, double>::first);
    return found == event.numbers.end() ? std::nullopt : std::optional(found->second);
}

// A number of a stage from 1, as the events count them, to its place.
std::optional<std::size_t> place_of(EventRow const& event, std::size_t stages) {
    auto const number = number_in(event, "stage");
    if (!number || *number < 1 || *number > static_cast<double>(stages)) return std::nullopt;
    return static_cast<std::size_t>(*number) - 1;
}

// As the cook tells of the begin of a stage: "tart: bake in oven, until 45 min have passed."
bool began_there(EventRow const& event, StageOfDish const& stage, Settings const& settings) {
    auto begin = event.subject + ": " + stage.settings->name;
    if (stage.vessel >= 0) begin += " in " + settings.vessels[static_cast<std::size_t>(stage.vessel)].name;
    if (!event.text.starts_with(begin) || event.text.size() == begin.size()) return false;
    return event.text[begin.size()] == ',' || event.text[begin.size()] == '.';
}

class OneCook {
public:
    OneCook(logbook::Reader& reader, logbook::CookRow const& cook, Settings const& settings, int dish)
        : settings_(settings),
          dish_(dish),
          stages_(stages_of(settings, settings.dishes[static_cast<std::size_t>(dish)])),
          there_(stages_.size(), false) {
        auto const window = reader.window_of(cook);
        for (auto const& event : reader.events(window, "stage-began"))
            if (event.subject == cook.dish) begin(event);
        for (auto const& event : reader.events(window, "stage-ended"))
            if (event.subject == cook.dish) end(event);
    }
    std::vector<Past> const& lengths() const { return lengths_; }

private:
    void begin(EventRow const& event) {
        if (auto const place = place_of(event, stages_.size()))
            there_[*place] = began_there(event, stages_[*place], settings_);
    }
    void end(EventRow const& event) {
        auto const place = place_of(event, stages_.size());
        auto const length = number_in(event, "length_s");
        bool const left_early = number_in(event, "left_open").has_value();
        if (place && length && there_[*place] && !left_early) lengths_.push_back({dish_, *place, *length});
    }

    Settings const& settings_;
    int dish_;
    std::vector<StageOfDish> stages_;
    std::vector<bool> there_;  // each began in the vessel that the plan names
    std::vector<Past> lengths_;
};

}  // namespace

std::vector<Past> past_stages(logbook::Reader& reader, Settings const& settings) {
    std::vector<Past> out;
    for (auto const& cook : reader.cooks()) {
        int const dish = number_of(settings.dishes, cook.dish);
        if (dish < 0 || !cook.ended) continue;
        if (cook.plan != settings.dishes[static_cast<std::size_t>(dish)].plan) continue;
        auto const lengths = OneCook(reader, cook, settings, dish).lengths();
        out.insert(out.end(), lengths.begin(), lengths.end());
    }
    return out;
}

}  // namespace ingle::schedule
