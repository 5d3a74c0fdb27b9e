// ingle probe test: do all probes that are in one place agree, and which is the odd one?
#include <algorithm>
#include <cmath>
#include <memory>
#include <ostream>

#include "tools/cli/live/now_text.hpp"
#include "tools/cli/probe/probe.hpp"

namespace ingle::cli {
namespace {

// All probes in one place should show the same: the one furthest from the middle is named.
int test(Context& context, std::vector<std::string> const& names, std::string const& tolerance_text,
         bool json) {
    auto const parsed = parse_temperature_difference(tolerance_text);
    if (auto const* error = std::get_if<QuantityError>(&parsed)) {
        throw Failure("--within: " + error->wrong + "; " + error->right, wrong_usage);
    }
    double const tolerance = std::get<TemperatureDifference>(parsed).kelvin;
    auto const now = Client(context.socket()).get("/api/now");
    for (auto const& name : names) (void)find_probe(now, name);
    struct One {
        std::string name;
        double celsius;
    };
    std::vector<One> values;
    std::vector<std::string> silent;
    for (auto const& probe : now.at("probes")) {
        auto const name = text_in(probe, "name");
        if (!names.empty() && std::ranges::find(names, name) == names.end()) continue;
        if (auto const celsius = number_in(probe, "celsius"))
            values.push_back({name, *celsius});
        else
            silent.push_back(name);
    }
    if (values.size() < 2) throw Failure("two probes with a value are needed to compare");
    auto sorted = values;
    std::ranges::sort(sorted, {}, &One::celsius);
    auto const n = sorted.size();
    double const middle =
        n % 2 ? sorted[n / 2].celsius : (sorted[n / 2 - 1].celsius + sorted[n / 2].celsius) / 2;
    bool agree = silent.empty();
    std::string odd;
    auto const unit = unit_of(now);
    Json rows = Json::array();
    Table table;
    for (auto const& one : values) {
        bool const off = std::abs(one.celsius - middle) > tolerance;
        agree = agree && !off;
        if (off) odd += (odd.empty() ? "" : ", ") + one.name;
        rows.push_back({{"probe", one.name},
                        {"celsius", one.celsius},
                        {"off_k", one.celsius - middle},
                        {"outlier", off}});
        table.row({one.name, temperature_text(one.celsius, unit),
                   show(TemperatureDifference{one.celsius - middle}, unit, 2) + " from the middle",
                   off ? "does not agree" : ""});
    }
    for (auto const& name : silent) table.row({name, "-", "no value"});
    if (json) {
        context.out
            << Json{{"agree", agree}, {"middle_c", middle}, {"probes", rows}, {"without_value", silent}}.dump(
                   2)
            << "\n";
    } else {
        context.out << table.text("")
                    << (agree         ? std::string("all agree")
                        : odd.empty() ? std::string("those with a value agree")
                        : n == 2
                            ? std::string("the two disagree; a third would tell which is wrong")
                            : odd + ": not as the others; look at the tip (wet?), the plug and the place")
                    << "\n";
    }
    return agree ? done : no;
}

}  // namespace

void add_probe_test(Verb const& probe, Context& context) {
    auto command =
        probe.verb("test", "probes that are all in one place (a glass of ice water): do they agree?",
                   "  ingle probe test stock goose-core --within \"1 degF\"");
    auto const names = std::make_shared<std::vector<std::string>>();
    auto const within = std::make_shared<std::string>("2 degF");
    auto const json = std::make_shared<bool>(false);
    command.words("PROBE", *names, "these; else all");
    command.option("--within", *within, "how far from the middle is still agreement");
    command.flag("--json", *json, "answer in JSON");
    command.does([&context, names, within, json] { return test(context, *names, *within, *json); });
}

}  // namespace ingle::cli
