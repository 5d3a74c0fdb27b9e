#include "tests/scenarios/scenario.hpp"

#include <cmath>

namespace ingle::scenarios {

Reading Probe::at(int s, double true_c) {
    double const shown = true_c + wander_.step(chance_) + noise_ * chance_.normal();
    return Reading::good(second(s), std::round(shown * 4) / 4);
}

Settings one_vessel(VesselKind kind, std::optional<std::pair<double, double>> band) {
    Settings settings;
    settings.file = "scenario";
    settings.name = "scenario";
    settings.pressure = Pressure{98'800};
    ProbeSettings probe;
    probe.name = "medium";
    probe.driver = "recorded";
    settings.probes.push_back(probe);
    VesselSettings vessel;
    vessel.name = "vessel";
    vessel.kind = kind;
    vessel.medium = 0;
    if (band) vessel.band = Band{{band->first}, {band->second}};
    settings.vessels.push_back(vessel);
    return settings;
}

std::vector<Kind> const& kinds() {
    static std::vector<Kind> const all = [] {
        auto list = pot_kinds();
        for (auto const& part :
             {smoker_kinds(), cold_and_probe_kinds(), slow_kinds(), fast_kinds(), supply_kinds(),
              hands_on_probes_kinds(), hands_at_work_kinds(), hands_held_out_kinds(), hands_nearby_kinds()})
            list.insert(list.end(), part.begin(), part.end());
        return list;
    }();
    return all;
}

}  // namespace ingle::scenarios
