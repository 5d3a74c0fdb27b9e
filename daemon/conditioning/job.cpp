#include "daemon/conditioning/job.hpp"

#include <algorithm>

namespace ingle {

namespace {

ProbeJob job_of_medium(VesselKind kind) {
    switch (kind) {
        case VesselKind::pot:
        case VesselKind::bath:
            return ProbeJob::liquid;
        case VesselKind::smoker:
            return ProbeJob::smoker;
        case VesselKind::oven:
            return ProbeJob::oven;
        case VesselKind::fridge:
            return ProbeJob::fridge;
        case VesselKind::hot_box:
            return ProbeJob::hot_box;
        case VesselKind::room:
            return ProbeJob::room;
    }
    return ProbeJob::unknown;
}

}  // namespace

ProbeJob job_of(Settings const& settings, int probe) {
    auto const among = [probe](std::vector<int> const& numbers) {
        return std::find(numbers.begin(), numbers.end(), probe) != numbers.end();
    };
    for (DishSettings const& dish : settings.dishes)
        if (dish.core == probe || among(dish.more_cores)) return ProbeJob::core;
    for (VesselSettings const& vessel : settings.vessels)
        if (vessel.medium == probe || among(vessel.more)) return job_of_medium(vessel.kind);
    return ProbeJob::unknown;
}

std::pair<double, double> plausible_range(ProbeJob job) {
    switch (job) {
        case ProbeJob::liquid:
            return {-30, 400};
        case ProbeJob::smoker:
            return {-30, 500};
        case ProbeJob::oven:
            return {-30, 650};
        case ProbeJob::fridge:
            return {-50, 60};
        case ProbeJob::hot_box:
            return {-30, 200};
        case ProbeJob::room:
            return {-50, 90};
        case ProbeJob::core:
            return {-30, 120};
        case ProbeJob::unknown:
            break;
    }
    return {-60, 500};
}

Liveliness liveliness(ProbeJob job) {
    switch (job) {
        case ProbeJob::liquid:
            return {8e-8, 0.03, 0.3};
        case ProbeJob::smoker:
            return {3e-7, 0.08, 0.5};
        case ProbeJob::oven:
            return {1e-6, 0.15, 0.6};
        case ProbeJob::fridge:
            return {5e-8, 0.03, 0.1};
        case ProbeJob::hot_box:
            return {1e-7, 0.05, 0.3};
        case ProbeJob::room:
            return {1e-8, 0.01, 0.1};
        case ProbeJob::core:
            return {2e-9, 0.01, 0.1};
        case ProbeJob::unknown:
            break;
    }
    return {1e-7, 0.05, 0.3};
}

}  // namespace ingle
