#include "tools/cli/schedule/inputs.hpp"

#include <algorithm>
#include <filesystem>

#include "daemon/schedule/jobs.hpp"
#include "tools/cli/past/book.hpp"

namespace ingle::cli {
namespace {

std::optional<double> number_at(Json const& json, char const* key) {
    auto const found = json.find(key);
    return found == json.end() || !found->is_number() ? std::nullopt : std::optional(found->get<double>());
}

std::string text_at(Json const& json, char const* key) {
    auto const found = json.find(key);
    return found == json.end() || !found->is_string() ? std::string() : found->get<std::string>();
}

bool is_true(Json const& json, char const* key) {
    auto const found = json.find(key);
    return found != json.end() && found->is_boolean() && found->get<bool>();
}

// How long its stage still takes, of what it waits for.
void set_left(schedule::Running& running, Json const& dish) {
    auto const left = number_at(dish, "stage_left_s");
    auto const forecast = dish.find("forecast");
    bool const core =
        forecast != dish.end() && forecast->is_object() && text_at(*forecast, "what") == "core-target";
    auto const eta = core ? number_at(*forecast, "eta_s") : std::nullopt;
    if (!left && !eta) return;
    auto const at_least = left.value_or(0);
    auto const longer = [&](std::optional<double> s) { return std::max(at_least, s.value_or(0)); };
    running.left_s = longer(eta);
    running.left_low_s = eta ? longer(number_at(*forecast, "low_s")) : at_least;
    running.left_high_s = eta ? longer(number_at(*forecast, "high_s").value_or(*eta)) : at_least;
}

}  // namespace

std::vector<schedule::Running> running_dishes(Json const& now, Settings const& settings,
                                              schedule::Seconds at) {
    std::vector<schedule::Running> out;
    if (text_at(now, "kitchen") != settings.name) return out;
    auto const dishes = now.find("dishes");
    if (dishes == now.end() || !dishes->is_array()) return out;
    for (auto const& dish : *dishes) {
        int const number = number_of(settings.dishes, text_at(dish, "name"));
        if (number < 0 || !is_true(dish, "begun")) continue;
        auto const stages = schedule::stages_of(settings, settings.dishes[static_cast<std::size_t>(number)]);
        auto const name = text_at(dish, "stage");
        auto const stage =
            std::ranges::find_if(stages, [&](auto const& one) { return one.settings->name == name; });
        schedule::Running running;
        running.dish = number;
        running.stage = static_cast<std::size_t>(stage - stages.begin());
        running.began = at - static_cast<schedule::Seconds>(number_at(dish, "stage_age_s").value_or(0));
        set_left(running, dish);
        out.push_back(running);
    }
    return out;
}

std::vector<schedule::Past> past_stages(Context const& context, Settings const& settings) {
    std::error_code ignored;
    if (!std::filesystem::exists(context.logbook(), ignored)) return {};
    Book book(context, "");
    std::vector<schedule::Past> out;
    auto const cooks = book.reader().cooks();
    for (auto const& cook : cooks) {
        int const number = number_of(settings.dishes, cook.dish);
        if (number < 0 || !cook.ended) continue;
        auto const stages = schedule::stages_of(settings, settings.dishes[static_cast<std::size_t>(number)]);
        auto const window = book.reader().window_of(cook);
        for (auto const& event : book.reader().events(window, "stage-ended")) {
            if (event.subject != cook.dish) continue;
            auto const place = number_in(event, "stage"), length = number_in(event, "length_s");
            if (!place || !length || *place < 1) continue;
            auto const stage = static_cast<std::size_t>(*place) - 1;
            // Of the same plan only, and where the stage has kept its name there.
            bool const same =
                stage < stages.size() &&
                cook.plan == settings.dishes[static_cast<std::size_t>(number)].plan &&
                event.text.starts_with(cook.dish + ": " + stages[stage].settings->name + " ended");
            if (same) out.push_back({number, stage, *length});
        }
    }
    return out;
}

}  // namespace ingle::cli
