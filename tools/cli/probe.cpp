// ingle probe: what is wired, one probe now, and whether all agree.
#include <algorithm>
#include <cmath>
#include <memory>
#include <ostream>

#include "drivers/api/registry.hpp"
#include "tools/cli/now_text.hpp"

namespace ingle::cli {
namespace {

double const nothing = std::nan("");

double number(Json const& json, char const* key) {
    auto const found = json.find(key);
    return found != json.end() && found->is_number() ? found->get<double>() : nothing;
}

std::string word(Json const& json, char const* key) {
    auto const found = json.find(key);
    return found != json.end() && found->is_string() ? found->get<std::string>() : "";
}

int list(Context& context, bool json) {
    auto const now = Client(context.socket()).get("/api/now");
    if (json) {
        Json probes = Json::array();
        for (auto const& probe : now.at("probes")) probes.push_back(probe);
        context.out << Json{{"probes", probes}}.dump(2) << "\n";
        return done;
    }
    auto const unit = unit_of(now);
    Table table;
    for (auto const& probe : now.at("probes")) {
        auto const celsius = number(probe, "celsius");
        auto const trouble = word(probe, "trouble");
        table.row({word(probe, "name"), word(probe, "driver"),
                   std::isnan(celsius) ? "-" : temperature_text(celsius, unit),
                   std::isnan(celsius) ? "" : age_text(number(probe, "age_s")),
                   std::isnan(celsius) ? (trouble.empty() ? word(probe, "reason") : trouble)
                                       : word(probe, "quality")});
    }
    context.out << table.text("") << "\ndrivers in this build\n";
    Table known;
    for (auto const* driver : drivers()) known.row({std::string(driver->name), std::string(driver->summary)});
    context.out << known.text();
    return done;
}

int read(Context& context, std::string const& name, bool json) {
    auto const now = Client(context.socket()).get("/api/now");
    for (auto const& probe : now.at("probes")) {
        if (word(probe, "name") != name) continue;
        auto const celsius = number(probe, "celsius");
        if (json) {
            context.out << probe.dump(2) << "\n";
            return std::isnan(celsius) ? no : done;
        }
        if (std::isnan(celsius)) {
            context.out << name << ": no value: " << word(probe, "reason") << "\n";
            return no;
        }
        context.out << name << ": " << temperature_text(celsius, TemperatureUnit::fahrenheit) << " = "
                    << temperature_text(celsius, TemperatureUnit::celsius) << ", "
                    << age_text(number(probe, "age_s")) << ", " << word(probe, "quality");
        auto const junction = number(probe, "cold_junction_c"), noise = number(probe, "noise_k");
        if (!std::isnan(junction))
            context.out << ", cold junction " << temperature_text(junction, unit_of(now));
        if (!std::isnan(noise)) {
            context.out << ", noise " << show(TemperatureDifference{noise}, unit_of(now), 2);
        }
        context.out << "\n";
        return done;
    }
    throw Failure("there is no probe \"" + name + "\"; see `ingle probe list`", wrong_usage);
}

// All probes in one place should show the same: the one furthest from the middle is named.
int test(Context& context, std::vector<std::string> const& names, std::string const& tolerance_text,
         bool json) {
    auto const parsed = parse_temperature_difference(tolerance_text);
    if (auto const* error = std::get_if<QuantityError>(&parsed)) {
        throw Failure("--within: " + error->wrong + "; " + error->right, wrong_usage);
    }
    double const tolerance = std::get<TemperatureDifference>(parsed).kelvin;
    auto const now = Client(context.socket()).get("/api/now");
    struct One {
        std::string name;
        double celsius;
    };
    std::vector<One> values;
    std::vector<std::string> silent;
    for (auto const& probe : now.at("probes")) {
        auto const name = word(probe, "name");
        if (!names.empty() && std::ranges::find(names, name) == names.end()) continue;
        auto const celsius = number(probe, "celsius");
        if (std::isnan(celsius))
            silent.push_back(name);
        else
            values.push_back({name, celsius});
    }
    if (values.size() < 2) throw Failure("two probes with a value are needed to compare");
    auto sorted = values;
    std::ranges::sort(sorted, {}, &One::celsius);
    auto const n = sorted.size();
    double const middle =
        n % 2 ? sorted[n / 2].celsius : (sorted[n / 2 - 1].celsius + sorted[n / 2].celsius) / 2;
    bool agree = silent.empty();
    auto const unit = unit_of(now);
    Json rows = Json::array();
    Table table;
    for (auto const& one : values) {
        bool const off = std::abs(one.celsius - middle) > tolerance;
        agree = agree && !off;
        rows.push_back({{"probe", one.name},
                        {"celsius", one.celsius},
                        {"off_k", one.celsius - middle},
                        {"outlier", off}});
        table.row({one.name, temperature_text(one.celsius, unit),
                   show(TemperatureDifference{one.celsius - middle}, unit, 2) + " from the middle",
                   off ? "OFF" : ""});
    }
    for (auto const& name : silent) table.row({name, "-", "no value"});
    if (json) {
        context.out
            << Json{{"agree", agree}, {"middle_c", middle}, {"probes", rows}, {"without_value", silent}}.dump(
                   2)
            << "\n";
    } else {
        context.out << table.text("")
                    << (agree    ? "all agree\n"
                        : n == 2 ? "the two disagree; a third would tell which is wrong\n"
                                 : "not all agree\n");
    }
    return agree ? done : no;
}

}  // namespace

void add_probe(Verb const& app, Context& context) {
    auto command = app.verb("probe", "look at the probes", "  ingle probe list");
    command.group();
    auto const json = std::make_shared<bool>(false);

    auto one = command.verb("list", "the probes and the drivers of this build", "  ingle probe list");
    one.flag("--json", *json, "answer in JSON");
    one.does([&context, json] { return list(context, *json); });

    auto const name = std::make_shared<std::string>();
    one = command.verb("read", "one probe now", "  ingle probe read stock");
    one.required("PROBE", *name, "its name in the kitchen file");
    one.flag("--json", *json, "answer in JSON");
    one.does([&context, name, json] { return read(context, *name, *json); });

    auto const names = std::make_shared<std::vector<std::string>>();
    auto const within = std::make_shared<std::string>("2 degF");
    one = command.verb("test", "probes that are all in one place (a glass of ice water): do they agree?",
                       "  ingle probe test stock goose-core --within \"1 degF\"");
    one.words("PROBE", *names, "these; else all");
    one.option("--within", *within, "how far from the middle is still agreement");
    one.flag("--json", *json, "answer in JSON");
    one.does([&context, names, within, json] { return test(context, *names, *within, *json); });
}

}  // namespace ingle::cli
