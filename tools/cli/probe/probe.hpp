// What the commands about probes share: parts of the daemon's view of one probe. Pure; any thread.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "config/settings.hpp"
#include "tools/cli/program/client.hpp"

namespace ingle::cli {

std::optional<double> number_in(Json const& json, char const* key);  // empty if it is null or absent
std::string text_in(Json const& json, char const* key);              // "" if it is null or absent
// Throws Failure (wrong usage) with the names that there are.
Json const& find_probe(Json const& now, std::string const& name);
std::vector<CalibrationPoint> points_of(Json const& probe);

void add_probe_list(Verb const& probe, Context& context);
void add_probe_read(Verb const& probe, Context& context);
void add_probe_test(Verb const& probe, Context& context);
void add_probe_calibrate(Verb const& probe, Context& context);

}  // namespace ingle::cli
