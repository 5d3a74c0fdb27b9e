#include "tools/cli/schedule/inputs.hpp"

#include <algorithm>
#include <filesystem>

#include "daemon/planning/past_stages.hpp"
#include "daemon/schedule/cooking.hpp"
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

schedule::Cooking cooking_of(Json const& dish) {
    schedule::Cooking cooking;
    cooking.dish = text_at(dish, "name"), cooking.stage = text_at(dish, "stage");
    cooking.place = static_cast<std::size_t>(std::max(1.0, number_at(dish, "stage_number").value_or(1)) - 1);
    cooking.set_clock(text_at(dish, "stage_clock"));
    cooking.stage_age = number_at(dish, "stage_age_s").value_or(0);
    cooking.left = number_at(dish, "stage_left_s");
    cooking.cooked = !is_true(dish, "begun") && is_true(dish, "cooked");
    cooking.core_there = is_true(dish, "core_reached"), cooking.medium_c = number_at(dish, "medium_c");
    cooking.core_c = number_at(dish, "core_c");
    for (auto const& one : dish.value("undone", Json::array()))
        cooking.undone.push_back({text_at(one, "stage"), text_at(one, "text"), number_at(one, "core_c")});
    auto const forecast = dish.find("forecast");
    if (forecast == dish.end() || !forecast->is_object() || text_at(*forecast, "what") != "core-target")
        return cooking;
    cooking.core_eta = number_at(*forecast, "eta_s");
    cooking.core_low = number_at(*forecast, "low_s"), cooking.core_high = number_at(*forecast, "high_s");
    return cooking;
}

}  // namespace

std::vector<schedule::Running> running_dishes(Json const& now, Settings const& settings,
                                              schedule::Seconds at) {
    if (text_at(now, "kitchen") != settings.name) return {};
    std::vector<schedule::Cooking> cooking;
    auto const dishes = now.find("dishes");
    if (dishes == now.end() || !dishes->is_array()) return {};
    for (auto const& dish : *dishes)
        if (is_true(dish, "begun") || is_true(dish, "cooked")) cooking.push_back(cooking_of(dish));
    return schedule::running_dishes(cooking, settings, at);
}

std::vector<schedule::Past> past_stages(Context const& context, Settings const& settings) {
    std::error_code ignored;
    if (!std::filesystem::exists(context.logbook(), ignored)) return {};
    Book book(context, "");
    return schedule::past_stages(book.reader(), settings);
}

}  // namespace ingle::cli
