// What the forecast must reach: the gate, which is what it reached when the gate was set with a margin, and
// the goals, which are told where they are missed and do not gate.
#pragma once

#include "tests/forecast/report.hpp"

namespace ingle::bench {

// Each answers with how many gates are broken, and prints those and the missed goals.
int judge(Class kind, Pooled const& all);
int judge_reach(Class kind, Case what, Pooled const& all);

}  // namespace ingle::bench
