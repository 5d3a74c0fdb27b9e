// ingle calc lethality, cooling: of one probe of a recording.
#include <algorithm>
#include <memory>

#include "daemon/food/classes.hpp"
#include "daemon/food/cooling.hpp"
#include "daemon/food/lethality.hpp"
#include "tools/cli/calc.hpp"
#include "tools/cli/files.hpp"
#include "tools/cli/text.hpp"

namespace ingle::cli {
namespace {

struct Options {
    std::string recording, probe, food, rule = "food-code";
    bool json = false;
};

std::vector<FoodSample> series_of(Options const& given) {
    auto const recording = read_recording(given.recording);
    int const column = recording.column(given.probe);
    if (column < 0) {
        std::string known;
        for (auto const& one : recording.columns) known += (known.empty() ? "" : ", ") + one.name;
        throw Failure("the recording has no probe \"" + given.probe + "\"; it has " + known, wrong_usage);
    }
    std::vector<FoodSample> series;
    for (std::size_t row = 0; row < recording.rows(); ++row) {
        auto const& cell = recording.row(row)[static_cast<std::size_t>(column)];
        FoodSample sample{seconds(recording.times[row]), {}};
        if (auto const* celsius = std::get_if<double>(&cell)) sample.celsius = *celsius;
        series.push_back(sample);
    }
    return series;
}

std::string number_text(double value, int decimals) {
    auto const text = show(Temperature{value}, TemperatureUnit::celsius, decimals);
    return text.substr(0, text.find(' '));
}

int lethality(Context& context, Options const& given) {
    auto const* food = food_class(given.food);
    if (!food) {
        std::string known;
        for (auto const& one : food_classes()) known.append(known.empty() ? "" : ", ").append(one.name);
        throw Failure("there is no food class \"" + given.food + "\"; one of " + known, wrong_usage);
    }
    auto const series = series_of(given);
    Lethality sum(*food);
    double gap_s = 0;
    for (auto const& step : steps_of(series)) {
        sum.add(step);
        if (step.gap) gap_s += step.length();
    }
    std::optional<double> peak;
    for (auto const& sample : series) {
        if (sample.celsius) peak = std::max(peak.value_or(*sample.celsius), *sample.celsius);
    }
    auto const log10 = sum.credited_log10();
    Json data{{"log10", json_number(log10)},
              {"source", food->lethality_source},
              {"target_log10", food->target_log10},
              {"computed_log10", json_number(sum.computed_log10())},
              {"within_conditions", sum.within_conditions()},
              {"come_up_s", sum.come_up_s()},
              {"come_up_possible_s", sum.come_up_possible_s()},
              {"gap_s", gap_s},
              {"peak_c", json_number(peak)},
              {"caution", food->lethality_caution}};
    std::string sentence;
    if (!log10) {
        sentence = "no published model is given for " + std::string(food->name);
    } else {
        sentence = "equivalent to " + number_text(*log10, 2) + " log10 by " +
                   std::string(food->lethality_source) + "; the class asks for " +
                   number_text(food->target_log10, 1);
        if (!sum.within_conditions()) {
            sentence += "\nnot credited: the come-up from 50 to 130 degF took or may have taken " +
                        length_text(sum.come_up_possible_s()) + ", the source allows 6 h";
        }
    }
    if (gap_s > 0) sentence += "\nwithout readings for " + length_text(gap_s) + ", which is worth nothing";
    if (!food->lethality_caution.empty()) sentence += "\n" + std::string(food->lethality_caution);
    return answer(context, given.json, data, sentence + "\nLocal codes and licensed practice come first.");
}

int cooling(Context& context, Options const& given) {
    auto const* rule = cooling_rule(given.rule);
    if (!rule) {
        std::string known;
        for (auto const& one : cooling_rules()) known.append(known.empty() ? "" : ", ").append(one.word);
        throw Failure("there is no cooling rule \"" + given.rule + "\"; one of " + known, wrong_usage);
    }
    auto const series = series_of(given);
    auto const result = cooling_of(series, *rule);
    bool const blind = !series.empty() && !series.back().celsius;
    Json data{{"cooling", to_word(result.answer)},
              {"rule", rule->word},
              {"source", rule->source},
              {"stages", Json::array()}};
    auto sentence = "cooling: " + std::string(to_word(result.answer)) + ", by " + std::string(rule->source) +
                    "\n" + std::string(rule->summary);
    for (std::size_t i = 0; result.clock.running() && i < rule->stages.size(); ++i) {
        auto const& stage = rule->stages[i];
        auto const state = result.clock.stage(i, result.end_s, blind);
        data["stages"].push_back({{"from_f", stage.from_f},
                                  {"to_f", stage.to_f},
                                  {"most_s", stage.most_s},
                                  {"answer", to_word(state.answer)},
                                  {"passed", state.passed},
                                  {"took_least_s", json_number(state.took_least_s)},
                                  {"took_most_s", json_number(state.took_most_s)}});
        sentence += "\n  " + number_text(stage.from_f, 0) + " to " + number_text(stage.to_f, 0) +
                    " degF: " + std::string(to_word(state.answer)) +
                    (state.passed ? ", took " : ", running for ") + length_text(state.took_most_s) + " of " +
                    length_text(stage.most_s);
    }
    return answer(context, given.json, data, sentence + "\nLocal codes and licensed practice come first.");
}

}  // namespace

void add_calc_food(Verb const& calc, Context& context) {
    auto const given = std::make_shared<Options>();
    auto const run = [&context, given](int (*function)(Context&, Options const&)) {
        return [&context, given, function] { return function(context, *given); };
    };
    auto command = calc.verb("lethality", "what a core's history is worth by the published models",
                             "  ingle calc lethality supper.csv --probe goose-core --food ground-poultry");
    command.required("RECORDING", given->recording, "a CSV of readings");
    command.required("--probe", given->probe, "the core's column");
    command.required("--food", given->food, "the food class, such as ground-poultry");
    command.flag("--json", given->json, "answer in JSON");
    command.does(run(lethality));

    command = calc.verb("cooling", "was it cooled fast enough?",
                        "  ingle calc cooling stock.csv --probe stock --rule food-code");
    command.required("RECORDING", given->recording, "a CSV of readings");
    command.required("--probe", given->probe, "the core's column");
    command.option("--rule", given->rule, "food-code or fsis");
    command.flag("--json", given->json, "answer in JSON");
    command.does(run(cooling));
}

}  // namespace ingle::cli
