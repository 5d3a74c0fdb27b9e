// Temperatures over the time of a cook as an SVG picture that can be read without colour: lines differ in
// dash and carry their name, what happened is a numbered mark that a table explains, a gap is a hole. Pure.
#pragma once

#include <functional>
#include <string>
#include <utility>
#include <vector>

namespace ingle::cli {

struct SvgLine {
    std::string label;
    int style = 0;                                             // 0, 1, 2, ...: dash and colour
    std::vector<std::vector<std::pair<double, double>>> runs;  // (s, shown degrees), without a gap inside
};
struct SvgBand {
    double from = 0, to = 0, low = 0, high = 0;
};
struct SvgSpan {
    double from = 0, to = 0;
};
struct SvgMark {
    double t = 0;
    std::string label;   // "1", "A"
    bool below = false;  // in the lower row
    std::string tooltip;
};
struct SvgLevel {
    double value = 0;
    std::string label;
};
struct SvgChart {
    double from = 0, to = 0;  // s
    std::string unit;         // "degF"
    std::string description;  // for who cannot see it
    std::vector<SvgLine> lines;
    std::vector<SvgBand> bands;
    std::vector<SvgLevel> levels;  // limits, as thin lines across
    std::vector<SvgSpan> gaps;     // nothing was read
    std::vector<SvgMark> marks;
    std::function<std::string(double t)> time_label;  // "14:05"
    double midnight = 0;  // a moment from which the ticks of the time axis count, s
    std::string id;       // of its own on the page
};

// `narrow`: drawn for a phone, so that its letters stay legible there.
std::string svg_chart(SvgChart const& chart, bool narrow);

}  // namespace ingle::cli
