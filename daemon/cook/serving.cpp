#include "daemon/cook/serving.hpp"

#include <algorithm>

namespace ingle {
namespace {

double left_of(std::optional<Duration> const& asked, Span passed) {
    return asked ? std::max(0.0, asked->seconds - seconds(passed)) : 0;
}

}  // namespace

LeftOfPlan left_of_plan(std::span<StageSettings const> stages, StageSoFar const& so_far) {
    LeftOfPlan left;
    for (auto const& stage : stages) {
        bool const runs = &stage == stages.data();
        double const least = std::max(left_of(stage.at_least, runs ? so_far.elapsed : Span(0)),
                                      left_of(stage.until.time, runs ? so_far.counted : Span(0)));
        double soon = least, likely = least;
        bool const waits_for_core = stage.until.core && !(runs && so_far.core_reached);
        if (waits_for_core && runs && so_far.core.eta_s) {
            soon = std::max(soon, so_far.core.low_half_s.value_or(0));
            likely = std::max(likely, *so_far.core.eta_s);
        } else if (waits_for_core || stage.until.lethality) {
            left.complete = false;
            left.present_known = left.present_known && !runs;
        }
        left.least_s += least, left.soon_s += soon, left.likely_s += likely;
    }
    return left;
}

}  // namespace ingle
