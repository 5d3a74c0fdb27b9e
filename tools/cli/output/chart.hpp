// A chart of one probe for the terminal. Pure.
#pragma once

#include <optional>
#include <string>
#include <utility>
#include <vector>

namespace ingle::cli {

struct ChartColumn {                       // one stretch of time
    std::optional<double> min, mean, max;  // none: no reading in it
    bool fault = false;
};

struct ChartSpec {
    std::vector<ChartColumn> columns;
    std::optional<std::pair<double, double>> band;
    std::string from_label, to_label;                        // under the two ends, unless there are ticks
    std::vector<std::pair<std::size_t, std::string>> ticks;  // column and label, in order
    std::vector<std::pair<std::size_t, char>> marks;         // column and letter, for a legend
    int height = 12;
    bool unicode = false;
};

// Columns show the range from min to max, and the mean in it. A column without readings stays empty and has
// an 'x' (fault) or a '.' (nothing) on the line below; the band's ends are dashed lines with their number.
std::string chart_text(ChartSpec const& spec);

// 1, 2 or 5 times a power of ten, for at most `steps` steps over the range.
double round_step(double range, int steps);

}  // namespace ingle::cli
