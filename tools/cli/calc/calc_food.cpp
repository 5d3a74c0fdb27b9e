// ingle calc lethality, cooling: of one probe of a recording.
#include <algorithm>
#include <memory>

#include "config/did_you_mean.hpp"
#include "config/height.hpp"
#include "daemon/conditioning/conditioner.hpp"
#include "daemon/food/boiling.hpp"
#include "daemon/food/calculate.hpp"
#include "daemon/food/classes.hpp"
#include "daemon/food/core_evidence.hpp"
#include "daemon/food/phase.hpp"
#include "daemon/food/recording_ledger.hpp"
#include "tools/cli/calc/calc.hpp"
#include "tools/cli/output/text.hpp"
#include "tools/cli/program/files.hpp"

namespace ingle::cli {
namespace {

constexpr auto thickness_help =
    "the thinnest way through the food: without it a quick core is not told from air";

constexpr auto shape_help = "of the food: slab, cylinder or sphere; the quickest, a sphere";
constexpr auto altitude_help = "of the kitchen: no core is hotter than water boils there; the sea's";

constexpr auto does_help =
    "what was done to it, as a plan's stage says: cook, chill, hot-hold, ...; the answer is then that of "
    "such a dish; without it, of the worst that it may be";

constexpr auto cured_food = "cured-ham";

struct Options {
    std::string recording, probe, food, medium, thickness, shape, altitude, does, rule = "food-code";
    bool json = false;
};

// The column as the daemon would take it: what is not plausible, and spikes, are no reading.
std::vector<FoodSample> conditioned(Recording const& recording, int column, ProbeJob job) {
    ProbeSettings probe;
    probe.name = recording.columns[static_cast<std::size_t>(column)].name;
    if (recording.rows() > 1)
        probe.every = Duration{seconds(recording.times.back() - recording.times.front()) /
                               static_cast<double>(recording.rows() - 1)};
    Conditioner conditioner(0, probe, job);
    Instant const start{};
    Effects rows;
    for (std::size_t row = 0; row < recording.rows(); ++row) {
        auto const& cell = recording.row(row)[static_cast<std::size_t>(column)];
        Instant const at = start + recording.times[row];
        if (auto const* celsius = std::get_if<double>(&cell))
            conditioner.take(Reading::good(at, *celsius), rows);
        else if (auto const* fault = std::get_if<FaultKind>(&cell))
            conditioner.take(Reading::faulty(at, *fault, ""), rows);
    }
    conditioner.advance(start + recording.times.back() + from_seconds(10 * probe.every.seconds), rows);
    std::vector<FoodSample> series;
    for (auto const& effect : rows) {
        auto const* row = std::get_if<Recorded>(&effect);
        if (!row) continue;
        bool const counts = row->quality == Quality::good || row->quality == Quality::doubtful;
        series.push_back({seconds(row->at - start), counts ? row->celsius : std::nullopt, false});
    }
    // Empty cells at the begin and at the end are time that was not read.
    double const first = seconds(recording.times.front()), last = seconds(recording.times.back());
    if (series.empty() || series.front().t_s > first)
        series.insert(series.begin(), {first, std::nullopt, false});
    if (series.back().t_s < last) series.push_back({last, std::nullopt, false});
    return series;
}

int column_of(Recording const& recording, std::string const& probe) {
    int const column = recording.column(probe);
    if (column >= 0) return column;
    std::string known;
    for (auto const& one : recording.columns) known += (known.empty() ? "" : ", ") + one.name;
    throw Failure("the recording has no probe \"" + probe + "\"; it has " + known +
                      did_you_mean(probe, names_of(recording.columns)),
                  wrong_usage);
}

std::optional<FoodPhase> phase_of(Options const& given) {
    if (given.does.empty()) return std::nullopt;
    auto const does = does_of_word(given.does);
    if (!does)
        throw Failure(
            "--does \"" + given.does +
                "\" is nothing that a stage does; one of cook, brine, chill, hot-hold, cold-hold, rest, "
                "thaw, reheat",
            wrong_usage);
    return food_phase(does, std::nullopt);
}

struct Series {
    std::vector<FoodSample> samples;  // those that count have a temperature
    std::string none_counts;          // why, where some were read and none counts; else ""
    std::vector<FoodSample> read, medium;
    LedgerSettings dish;  // as the ledger would have it
};

std::string why_none_counts(std::vector<FoodSample> const& read, double boiling_c) {
    std::size_t n = 0;
    double highest = -1000;
    for (auto const& sample : read)
        if (sample.celsius) ++n, highest = std::max(highest, *sample.celsius);
    if (n == 0) return "";
    auto const shown = [](double c) { return show(Temperature{c}, TemperatureUnit::fahrenheit); };
    std::string text = "there are " + std::to_string(n) + " readings, and none counts as the core's: ";
    if (highest > hottest_core_c(boiling_c))
        return text + "the tip came to " + shown(highest) + ", and no core that holds water gets above " +
               shown(hottest_core_c(boiling_c)) +
               " here, so that what it read before was not the middle either";
    return text + "the tip was not seen at rest in the food, or it moved as air or a liquid does";
}

Series series_of(Options const& given, bool from_below) {
    auto const recording = read_recording(given.recording);
    auto const core = conditioned(recording, column_of(recording, given.probe), ProbeJob::core);
    std::vector<FoodSample> medium;
    if (!given.medium.empty())
        medium = conditioned(recording, column_of(recording, given.medium), ProbeJob::unknown);
    std::optional<Length> thickness;
    if (!given.thickness.empty())
        thickness = quantity_of<Length>(given.thickness, "--thickness", parse_length);
    std::optional<Shape> shape;
    if (!given.shape.empty()) shape = shape_of(given.shape);
    std::optional<Length> altitude;
    if (!given.altitude.empty()) altitude = quantity_of<Length>(given.altitude, "--altitude", parse_height);
    auto const* food = given.food.empty() ? nullptr : &known_food(given.food);
    double const boiling_c = boiling_point_here({}, altitude).celsius;
    Series series;
    series.samples = core_samples(core, phase_of(given).value_or(FoodPhase::cooking), food, medium, thickness,
                                  from_below, boiling_c, shape);
    if (std::ranges::none_of(series.samples, [](auto const& sample) { return sample.celsius.has_value(); }))
        series.none_counts = why_none_counts(core, boiling_c);
    series.dish.dish.food = given.food;
    series.dish.dish.thickness = thickness;
    series.dish.dish.shape = shape;
    series.dish.boiling_c = boiling_c;
    series.dish.units = TemperatureUnit::fahrenheit;
    series.read = core;
    series.medium = std::move(medium);
    return series;
}

int lethality(Context& context, Options const& given) {
    auto const& food = known_food(given.food);
    auto const series = series_of(given, true);
    auto result = lethality_of(series.samples, food);
    if (!series.none_counts.empty())
        result.why = series.none_counts;
    else
        bear_out(result, series.read, series.medium, series.dish, phase_of(given));
    Json data{{"log10", json_number(result.log10)},
              {"source", result.source},
              {"target_log10", food.target_log10},
              {"computed_log10", json_number(result.computed_log10)},
              {"come_up_s", result.come_up_s},
              {"come_up_possible_s", result.come_up_possible_s},
              {"gap_s", result.gap_s},
              {"danger_zone_s", result.danger_s},
              {"danger_zone_possible_s", result.danger_possible_s},
              {"peak_c", json_number(result.peak_c)},
              {"why", result.why},
              {"conditions", result.caution},
              {"caution", food_safety_caution}};
    data["row"] = nullptr;
    if (result.row) {
        data["row"] = {{"degrees_f", result.row->fahrenheit},
                       {"asked_s", result.row->asked.seconds()},
                       {"measured_s", result.row->measured_s}};
    }
    std::string sentence;
    if (result.log10) {
        sentence = "equivalent to " + decimal_text(*result.log10, 2) + " log10 by " +
                   std::string(result.source) + "; the class asks for " + decimal_text(food.target_log10, 1) +
                   "\n";
    }
    sentence += result.why;
    if (!result.caution.empty()) sentence += "\n" + std::string(result.caution);
    return answer(context, given.json, data, sentence + "\n" + std::string(food_safety_caution));
}

int cooling(Context& context, Options const& given) {
    auto const* rule = cooling_rule(given.rule);
    if (!rule) {
        std::string known;
        std::vector<std::string> words;
        for (auto const& one : cooling_rules()) {
            known.append(known.empty() ? "" : ", ").append(one.word);
            words.emplace_back(one.word);
        }
        throw Failure("there is no cooling rule \"" + given.rule + "\"; one of " + known +
                          did_you_mean(given.rule, words),
                      wrong_usage);
    }
    auto series = series_of(given, false);
    auto result = cooling_of(series.samples, *rule);
    auto why = series.none_counts.empty() ? cooling_sentence(result, TemperatureUnit::fahrenheit)
                                          : series.none_counts;
    auto& dish = series.dish.dish;
    dish.cooling_rule = rule->word;
    if (rule->needs_cure) dish.food = cured_food;  // the calculator takes the rule's condition for kept
    bear_out(result, series.read, series.medium, series.dish, why, phase_of(given));
    Json data{{"cooling", to_word(result.answer)},
              {"rule", rule->word},
              {"source", rule->source},
              {"why", why},
              {"caution", food_safety_caution}};
    return answer(context, given.json, data,
                  "cooling: " + std::string(to_word(result.answer)) + ", by " + std::string(rule->source) +
                      "\n" + why + "\n" + std::string(food_safety_caution));
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
    command.option("--medium", given->medium,
                   "the column of the air or the liquid around it: a \"core\" that equals it is none");
    command.required("--food", given->food, "the food class, such as ground-poultry");
    command.option("--thickness", given->thickness, thickness_help);
    command.option("--shape", given->shape, shape_help);
    command.option("--altitude", given->altitude, altitude_help);
    command.option("--does", given->does, does_help);
    command.flag("--json", given->json, "answer in JSON");
    command.does(run(lethality));

    command = calc.verb("cooling", "was it cooled fast enough?",
                        "  ingle calc cooling stock.csv --probe stock --rule food-code");
    command.required("RECORDING", given->recording, "a CSV of readings");
    command.required("--probe", given->probe, "the core's column");
    command.option("--medium", given->medium,
                   "the column of the air or the liquid around it: a \"core\" that equals it is none");
    command.option("--food", given->food, "the food class, such as stock");
    command.option("--thickness", given->thickness, thickness_help);
    command.option("--shape", given->shape, shape_help);
    command.option("--altitude", given->altitude, altitude_help);
    command.option("--does", given->does, does_help);
    command.option("--rule", given->rule, "food-code, food-code-140, fsis-1, fsis-2 or fsis-3");
    command.flag("--json", given->json, "answer in JSON");
    command.does(run(cooling));
}

}  // namespace ingle::cli
