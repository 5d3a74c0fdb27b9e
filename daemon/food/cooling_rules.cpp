// The published cooling rules as data: limits, edition, the condition they hold under, and what replaced
// them.
#include <algorithm>
#include <array>

#include "daemon/food/cooling.hpp"

namespace ingle {
namespace {

constexpr double hour = 3600;
constexpr double no_limit = std::numeric_limits<double>::infinity();

constexpr std::array code_stages{CoolingStage{135, 70, 2 * hour, true},
                                 CoolingStage{135, 41, 6 * hour, true}};
constexpr std::array old_code_stages{CoolingStage{140, 70, 2 * hour, true},
                                     CoolingStage{70, 41, 4 * hour, false}};
constexpr std::array fsis1_stages{CoolingStage{130, 80, 1.5 * hour, true},
                                  CoolingStage{80, 40, 5 * hour, false}};
// The source gives the way from 55 to 40 degF no time of its own: it is open until 40 degF was seen.
constexpr std::array fsis2_stages{CoolingStage{120, 55, 6 * hour, true},
                                  CoolingStage{55, 40, no_limit, false}};
constexpr std::array fsis3_stages{CoolingStage{130, 80, 5 * hour, true},
                                  CoolingStage{80, 45, 10 * hour, false}};

constexpr std::string_view replaced_1999 =
    "Since 14 December 2022 the 1999 text no longer serves by itself: the 2021 guideline replaced it (FSIS "
    "Notice 66-22; 86 FR 71007)";

constexpr std::array<CoolingRule, 5> rules{{
    {.word = "food-code",
     .summary = "135 to 70 degF within 2 h, to 41 degF within 6 h in all",
     .stages = code_stages,
     .printed_start_c = 57.0,
     .source = "FDA Food Code 3-501.14(A)"},
    {.word = "food-code-140",
     .summary = "140 to 70 degF within 2 h, then to 41 degF within 4 h more",
     .stages = old_code_stages,
     .printed_start_c = 60.0,
     .source = "older codes (Maine chapter 346), superseded by 135 degF",
     .replaced = "Later editions of the Food Code count from 135 degF"},
    {.word = "fsis-1",
     .summary = "130 to 80 degF within 1 h 30 min, then to 40 degF within 5 h more",
     .stages = fsis1_stages,
     .printed_start_c = 54.4,
     .source = "USDA FSIS Appendix B (1999), option 1",
     .replaced = replaced_1999},
    {.word = "fsis-2",
     .summary = "120 to 55 degF within 6 h; less certain if 120 to 80 degF takes over 1 h; go on to 40 degF",
     .stages = fsis2_stages,
     .printed_start_c = 48.0,
     .source = "USDA FSIS Appendix B (1999), option 2",
     .certain = CoolingStage{120, 80, 1 * hour, true},
     .replaced = replaced_1999},
    {.word = "fsis-3",
     .summary =
         "cured with at least 100 ppm nitrite: 130 to 80 degF within 5 h, then to 45 degF within 10 h more",
     .stages = fsis3_stages,
     .printed_start_c = 54.4,
     .source = "USDA FSIS Appendix B (1999), option 3",
     .needs_cure = true,
     .replaced = replaced_1999},
}};

}  // namespace

std::string_view to_word(CoolingAnswer answer) {
    switch (answer) {
        case CoolingAnswer::met:
            return "met";
        case CoolingAnswer::missed:
            return "missed";
        case CoolingAnswer::not_applicable:
            return "not-applicable";
        case CoolingAnswer::unknown:
            break;
    }
    return "unknown";
}

double CoolingRule::most_s() const {
    if (stages.back().from_start) return stages.back().most_s;
    double sum = 0;
    for (auto const& stage : stages) sum += stage.most_s;
    return sum;
}

std::span<CoolingRule const> cooling_rules() {
    return rules;
}

CoolingRule const* cooling_rule(std::string_view word) {
    auto const found = std::ranges::find(rules, word == "fsis" ? "fsis-1" : word, &CoolingRule::word);
    return found == rules.end() ? nullptr : &*found;
}

}  // namespace ingle
