#include "tools/cli/probe/probe.hpp"

#include "config/did_you_mean.hpp"

#include <algorithm>

namespace ingle::cli {

std::optional<double> number_in(Json const& json, char const* key) {
    auto const found = json.find(key);
    return found != json.end() && found->is_number() ? std::optional(found->get<double>()) : std::nullopt;
}

std::string text_in(Json const& json, char const* key) {
    auto const found = json.find(key);
    return found != json.end() && found->is_string() ? found->get<std::string>() : "";
}

Json const& find_probe(Json const& now, std::string const& name) {
    std::string known;
    for (auto const& probe : now.at("probes")) {
        if (text_in(probe, "name") == name) return probe;
        known += (known.empty() ? "" : ", ") + text_in(probe, "name");
    }
    std::vector<std::string> names;
    for (auto const& probe : now.at("probes")) names.push_back(text_in(probe, "name"));
    throw Failure("there is no probe \"" + name + "\"; there are: " + known + did_you_mean(name, names),
                  wrong_usage);
}

std::vector<CalibrationPoint> points_of(Json const& probe) {
    std::vector<CalibrationPoint> points;
    for (auto const& point : probe.value("calibration", Json::array()))
        points.push_back({{number_in(point, "reads_c").value_or(0)}, {number_in(point, "is_c").value_or(0)}});
    return points;
}

void add_probe(Verb const& app, Context& context) {
    auto command = app.verb("probe", "find, read, compare and calibrate the probes", "  ingle probe list");
    command.group();
    add_probe_list(command, context);
    add_probe_read(command, context);
    add_probe_test(command, context);
    add_probe_calibrate(command, context);
}

}  // namespace ingle::cli
