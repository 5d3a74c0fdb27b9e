#include "tools/cli/output/chart.hpp"

#include <algorithm>
#include <cmath>

#include "tools/cli/output/text.hpp"

namespace ingle::cli {
namespace {

std::string axis_number(double value, int decimals) {
    auto const text = fixed(value, decimals);
    return text.size() < 7 ? std::string(7 - text.size(), ' ') + text : text;
}

// The time axis: a line with a tick above each label; labels that would touch the one before are left out.
std::string axis_text(ChartSpec const& spec) {
    std::string const flat = spec.unicode ? "─" : "-", tick = spec.unicode ? "┬" : "+",
                      corner = spec.unicode ? "└" : "+";
    std::vector<bool> ticked(spec.columns.size(), false);
    std::string labels;
    std::size_t end = 0;
    for (auto const& [column, label] : spec.ticks) {
        if (column >= spec.columns.size()) continue;
        ticked[column] = true;
        auto const width = width_of(label);
        auto const half = width / 2;
        auto const begin = column > half ? column - half : 0;
        if ((end > 0 && begin < end + 1) || begin + width > spec.columns.size() + 1) continue;
        labels += std::string(begin - end, ' ') + label;
        end = begin + width;
    }
    std::string line;
    for (bool const here : ticked) line += here ? tick : flat;
    return "        " + corner + line + "\n         " + labels + "\n";
}

}  // namespace

double round_step(double range, int steps) {
    double const raw = std::max(range, 1e-6) / steps, power = std::pow(10, std::floor(std::log10(raw)));
    for (double const factor : {1.0, 2.0, 5.0}) {
        if (raw <= factor * power * (1 + 1e-9)) return factor * power;
    }
    return 10 * power;
}

std::string chart_text(ChartSpec const& spec) {
    double low = 0, high = 0;
    bool any = false;
    auto const widen = [&](double value) {
        low = any ? std::min(low, value) : value;
        high = any ? std::max(high, value) : value;
        any = true;
    };
    for (auto const& column : spec.columns) {
        if (column.min) widen(*column.min);
        if (column.max) widen(*column.max);
    }
    if (!any) return "  no readings in this span\n";
    if (spec.band) {
        // The band belongs in the picture unless it would squeeze the readings into a line.
        double const span = std::max(high - low, 1.0);
        if (spec.band->first > low - 3 * span) widen(spec.band->first);
        if (spec.band->second < high + 3 * span) widen(spec.band->second);
    }
    double const step = round_step(std::max(high - low, 0.5) / (spec.height - 1) * 4, 1) / 4;
    // Every fourth row has its number: a round one.
    double const bottom = std::floor(low / (4 * step)) * 4 * step;
    auto const height = std::max(6, static_cast<int>(std::lround((high - bottom) / step)) + 1);
    auto const row_of = [&](double value) {
        return std::clamp(static_cast<int>(std::lround((value - bottom) / step)), 0, height - 1);
    };
    std::string const bar = spec.unicode ? "│" : "|", dot = spec.unicode ? "●" : "o";
    std::string const dash = spec.unicode ? "┄" : "-", edge = spec.unicode ? "┤" : "|";

    std::string out;
    for (int row = height - 1; row >= 0; --row) {
        bool const at_low = spec.band && row == row_of(spec.band->first) && spec.band->first >= bottom;
        bool const at_high =
            spec.band && row == row_of(spec.band->second) && spec.band->second <= bottom + height * step;
        std::string label(7, ' ');
        if (at_low)
            label = axis_number(spec.band->first, 1);
        else if (at_high)
            label = axis_number(spec.band->second, 1);
        else if (row % 4 == 0)
            label = axis_number(bottom + row * step, step < 1 ? 1 : 0);
        std::string line;
        for (auto const& column : spec.columns) {
            if (!column.min || !column.max) {
                line += " ";
            } else if (column.mean && row == row_of(*column.mean)) {
                line += dot;
            } else if (row >= row_of(*column.min) && row <= row_of(*column.max)) {
                line += bar;
            } else {
                line += at_low || at_high ? dash : std::string(" ");
            }
        }
        line.erase(line.find_last_not_of(' ') + 1);
        out += label + " " + edge + line + "\n";
    }
    std::string below;
    for (auto const& column : spec.columns) below += column.min ? ' ' : column.fault ? 'x' : '.';
    for (auto const& [place, letter] : spec.marks) {
        if (place < below.size()) below[place] = letter;
    }
    below.erase(below.find_last_not_of(' ') + 1);
    if (!below.empty()) out += "         " + below + "\n";
    if (!spec.ticks.empty()) return out + axis_text(spec);
    auto const used = width_of(spec.from_label) + width_of(spec.to_label);
    auto const space = spec.columns.size() > used ? spec.columns.size() - used : 1;
    return out + "         " + spec.from_label + std::string(space, ' ') + spec.to_label + "\n";
}

}  // namespace ingle::cli
