#include "tools/cli/output/svg_chart.hpp"

#include <algorithm>
#include <cmath>

#include "tools/cli/output/chart.hpp"
#include "tools/cli/output/doc.hpp"
#include "tools/cli/output/text.hpp"
#include "tools/cli/time/time_ticks.hpp"

namespace ingle::cli {
namespace {

std::string number(double value, int decimals = 1) {
    return fixed(value, decimals);
}

struct Frame {
    double width = 1000, height = 400, left = 54, right = 14, top = 34, bottom = 78;
    int ticks_x = 9, ticks_y = 7;
    double letter = 13;  // font size
};

class Drawing {
public:
    Drawing(SvgChart const& chart, bool narrow) : chart_(chart), narrow_(narrow) {
        if (narrow) frame_ = {380, 330, 42, 10, 30, 92, 5, 6, 12};
        frame_.bottom += 18 * std::max(0.0, std::ceil(legend_width() / (frame_.width - 20)) - 1);
        frame_.height += 18 * std::max(0.0, std::ceil(legend_width() / (frame_.width - 20)) - 1);
        find_range();
    }

    std::string text() {
        out_ = "<svg class=\"" + std::string(narrow_ ? "narrow" : "wide") + "\" viewBox=\"0 0 " +
               number(frame_.width, 0) + " " + number(frame_.height, 0) + "\" role=\"img\" aria-label=\"" +
               html_escaped(chart_.description) + "\" font-size=\"" + number(frame_.letter, 0) +
               "\">\n<title>" + html_escaped(chart_.description) + "</title>\n";
        pattern();
        for (auto const& band : chart_.bands) box(band.from, band.to, band.low, band.high, "band");
        for (auto const& gap : chart_.gaps)
            box(gap.from, gap.to, low_, high_, "gap", "fill=\"url(#" + pattern_id() + ")\"");
        axes();
        for (auto const& level : chart_.levels) this->level(level);
        for (auto const& line : chart_.lines) draw(line);
        marks();
        legend();
        return out_ + "</svg>\n";
    }

private:
    std::string pattern_id() const { return chart_.id + (narrow_ ? "-n" : "-w"); }
    double x(double t) const {
        return frame_.left + (t - chart_.from) / std::max(chart_.to - chart_.from, 1e-9) * plot_width();
    }
    double y(double value) const {
        return frame_.top + (high_ - value) / (high_ - low_) * (frame_.height - frame_.top - frame_.bottom);
    }
    double plot_width() const { return frame_.width - frame_.left - frame_.right; }
    double bottom() const { return frame_.height - frame_.bottom; }

    void find_range() {
        bool any = false;
        auto const widen = [&](double value) {
            low_ = any ? std::min(low_, value) : value;
            high_ = any ? std::max(high_, value) : value;
            any = true;
        };
        for (auto const& line : chart_.lines)
            for (auto const& run : line.runs)
                for (auto const& [t, value] : run) widen(value);
        for (auto const& band : chart_.bands) widen(band.low), widen(band.high);
        for (auto const& level : chart_.levels) widen(level.value);
        if (!any) widen(0), widen(100);
        step_ = round_step(high_ - low_, frame_.ticks_y - 1);
        low_ = std::floor(low_ / step_) * step_;
        high_ = std::max(std::ceil(high_ / step_) * step_, low_ + step_);
    }

    void pattern() {
        out_ += "<defs><pattern id=\"" + pattern_id() +
                "\" width=\"7\" height=\"7\" patternUnits=\"userSpaceOnUse\" patternTransform=\"rotate(45)\">"
                "<rect width=\"7\" height=\"7\" class=\"gap-ground\"/>"
                "<line x1=\"0\" y1=\"0\" x2=\"0\" y2=\"7\" class=\"gap-line\"/></pattern></defs>\n";
    }

    void box(double from, double to, double low, double high, std::string const& kind,
             std::string const& more = "") {
        double const x0 = x(std::max(from, chart_.from)), x1 = x(std::min(to, chart_.to));
        if (x1 <= x0) return;
        out_ += "<rect class=\"" + kind + "\" " + more + " x=\"" + number(x0) + "\" y=\"" + number(y(high)) +
                "\" width=\"" + number(x1 - x0) + "\" height=\"" + number(y(low) - y(high)) + "\"/>\n";
    }

    void line(double x0, double y0, double x1, double y1, std::string const& kind) {
        out_ += "<line class=\"" + kind + "\" x1=\"" + number(x0) + "\" y1=\"" + number(y0) + "\" x2=\"" +
                number(x1) + "\" y2=\"" + number(y1) + "\"/>\n";
    }
    void words(double at_x, double at_y, std::string const& text, std::string const& anchor,
               std::string const& kind = "") {
        out_ += "<text x=\"" + number(at_x) + "\" y=\"" + number(at_y) + "\" text-anchor=\"" + anchor + "\"" +
                (kind.empty() ? "" : " class=\"" + kind + "\"") + ">" + html_escaped(text) + "</text>\n";
    }

    void axes() {
        for (double value = low_; value <= high_ + step_ / 1000; value += step_) {
            line(frame_.left, y(value), frame_.width - frame_.right, y(value), "grid");
            words(frame_.left - 6, y(value) + 4, number(value, step_ < 1 ? 1 : 0), "end");
        }
        words(0, frame_.top - 18, chart_.unit, "start", "quiet");
        double const step = time_step(chart_.to - chart_.from, static_cast<std::size_t>(frame_.ticks_x));
        double const first = std::ceil((chart_.from - chart_.midnight) / step) * step + chart_.midnight;
        for (double t = first; t <= chart_.to + 1e-6; t += step) {
            line(x(t), bottom(), x(t), bottom() + 5, "axis");
            words(x(t), bottom() + 19, chart_.time_label(t), "middle");
        }
        line(frame_.left, bottom(), frame_.width - frame_.right, bottom(), "axis");
    }

    void level(SvgLevel const& level) {
        line(frame_.left, y(level.value), frame_.width - frame_.right, y(level.value), "level");
        words(frame_.width - frame_.right - 2, y(level.value) - 4, level.label, "end", "quiet");
    }

    // At most a highest and a lowest point for each picture column.
    void draw(SvgLine const& one) {
        std::string path;
        for (auto const& run : one.runs) {
            std::size_t i = 0;
            bool first = true;
            while (i < run.size()) {
                auto const column = std::floor(x(run[i].first));
                auto low = i, high = i;
                auto const begin = i;
                for (; i < run.size() && std::floor(x(run[i].first)) == column; ++i) {
                    if (run[i].second < run[low].second) low = i;
                    if (run[i].second > run[high].second) high = i;
                }
                std::vector<std::size_t> points{begin, std::min(low, high), std::max(low, high), i - 1};
                points.erase(std::unique(points.begin(), points.end()), points.end());
                for (auto const point : points) {
                    path += (first ? "M" : "L") + number(x(run[point].first)) + " " +
                            number(y(run[point].second));
                    first = false;
                }
            }
            if (run.size() == 1) path += "h0.5";
        }
        if (!path.empty())
            out_ += "<path class=\"line l" + std::to_string(one.style) + "\" d=\"" + path + "\"/>\n";
    }

    // Marks that would cover each other share a label: "A-C".
    void marks() {
        for (bool const below : {false, true}) {
            std::vector<SvgMark> shown;
            for (auto const& mark : chart_.marks) {
                if (mark.below != below || mark.t < chart_.from || mark.t > chart_.to) continue;
                if (!shown.empty() &&
                    place(mark) - half(mark) < place(shown.back()) + half(shown.back()) + 3) {
                    auto& label = shown.back().label;
                    label = label.substr(0, label.find('-')) + "-" + mark.label;
                    shown.back().tooltip += "; " + mark.tooltip;
                } else {
                    shown.push_back(mark);
                }
            }
            for (auto const& mark : shown) draw(mark);
        }
    }
    double half(SvgMark const& mark) const { return 4 + 4.2 * static_cast<double>(mark.label.size()); }
    double place(SvgMark const& mark) const {
        return std::clamp(x(mark.t), frame_.left, frame_.width - frame_.right - half(mark));
    }
    void draw(SvgMark const& mark) {
        double const half = this->half(mark), at = place(mark);
        double const row = mark.below ? bottom() + 27 : frame_.top - 21;
        if (mark.below)
            line(x(mark.t), bottom() - 9, x(mark.t), bottom(), "alarm-tick");
        else
            line(x(mark.t), row + 17, x(mark.t), bottom(), "stage-line");
        out_ += "<g><title>" + html_escaped(mark.tooltip) + "</title><rect class=\"" +
                (mark.below ? "alarm-mark" : "stage-mark") + "\" x=\"" + number(at - half) + "\" y=\"" +
                number(row) + "\" width=\"" + number(2 * half) + "\" height=\"17\" rx=\"" +
                (mark.below ? "0" : "8") + "\"/>";
        words(at, row + 13, mark.label, "middle", mark.below ? "alarm-text" : "stage-text");
        out_ += "</g>\n";
    }

    double legend_width() const {
        double sum = 0;
        for (auto const& one : chart_.lines)
            sum += 56 + 0.56 * frame_.letter * static_cast<double>(one.label.size());
        return sum;
    }
    void legend() {
        double at = 10, row = bottom() + 62;
        for (auto const& one : chart_.lines) {
            double const width = 56 + 0.56 * frame_.letter * static_cast<double>(one.label.size());
            if (at > 10 && at + width > frame_.width - 10) at = 10, row += 18;
            out_ += "<path class=\"line l" + std::to_string(one.style) + "\" d=\"M" + number(at) + " " +
                    number(row - 4) + "h30\"/>\n";
            words(at + 36, row, one.label, "start");
            at += width;
        }
    }

    SvgChart const& chart_;
    bool narrow_;
    Frame frame_;
    double low_ = 0, high_ = 1, step_ = 1;
    std::string out_;
};

}  // namespace

std::string svg_chart(SvgChart const& chart, bool narrow) {
    return Drawing(chart, narrow).text();
}

}  // namespace ingle::cli
