#include "daemon/notices/email/picture.hpp"

#include <png.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <cstdint>
#include <vector>

namespace ingle::email {
namespace {

enum Colour : std::uint8_t { paper, area, edge, frame, ink };
// Darker from one to the next, so that they are told apart without colours.
constexpr std::array<std::uint8_t, 15> palette{255, 255, 255, 222, 232, 240, 120, 146,
                                               168, 90,  90,  90,  16,  24,  32};

constexpr int left = 72, right = picture_width - 12, top = 12, bottom = picture_height - 28;
constexpr int glyph_width = 5, glyph_height = 7, scale = 2, step = (glyph_width + 1) * scale;
constexpr int dot = 2;

// Five columns, the highest of the five bits is the left one.
constexpr std::string_view glyph_letters = "0123456789.:-";
constexpr std::array<std::array<std::uint8_t, glyph_height>, 13> glyphs{{{14, 17, 19, 21, 25, 17, 14},
                                                                         {4, 12, 4, 4, 4, 4, 14},
                                                                         {14, 17, 1, 6, 8, 16, 31},
                                                                         {30, 1, 1, 14, 1, 1, 30},
                                                                         {2, 6, 10, 18, 31, 2, 2},
                                                                         {31, 16, 30, 1, 1, 17, 14},
                                                                         {6, 8, 16, 30, 17, 17, 14},
                                                                         {31, 1, 2, 4, 8, 8, 8},
                                                                         {14, 17, 17, 14, 17, 17, 14},
                                                                         {14, 17, 17, 15, 1, 2, 12},
                                                                         {0, 0, 0, 0, 0, 4, 4},
                                                                         {0, 4, 4, 0, 4, 4, 0},
                                                                         {0, 0, 0, 14, 0, 0, 0}}};

class Canvas {
public:
    Canvas() : pixels_(static_cast<std::size_t>(picture_width) * picture_height, paper) {}

    void fill(int x0, int y0, int x1, int y1, Colour colour) {
        for (int y = std::max(y0, 0); y <= std::min(y1, picture_height - 1); ++y)
            for (int x = std::max(x0, 0); x <= std::min(x1, picture_width - 1); ++x)
                pixels_[static_cast<std::size_t>(y) * picture_width + static_cast<std::size_t>(x)] = colour;
    }
    void line(double x0, double y0, double x1, double y1) {
        int const steps = 1 + static_cast<int>(std::max(std::abs(x1 - x0), std::abs(y1 - y0)));
        for (int i = 0; i <= steps; ++i) {
            double const part = static_cast<double>(i) / steps;
            int const x = static_cast<int>(std::lround(x0 + part * (x1 - x0)));
            int const y = static_cast<int>(std::lround(y0 + part * (y1 - y0)));
            fill(x, y, x + dot - 1, y + dot - 1, ink);
        }
    }
    void text(int x, int y, std::string_view letters) {
        for (char const letter : letters) {
            auto const at = glyph_letters.find(letter);
            for (int row = 0; at != std::string_view::npos && row < glyph_height; ++row)
                for (int column = 0; column < glyph_width; ++column)
                    if (glyphs[at][static_cast<std::size_t>(row)] >> (glyph_width - 1 - column) & 1)
                        fill(x + column * scale, y + row * scale, x + column * scale + scale - 1,
                             y + row * scale + scale - 1, frame);
            x += step;
        }
    }
    std::string png() const {
        png_image image{};
        image.version = PNG_IMAGE_VERSION;
        image.width = picture_width;
        image.height = picture_height;
        image.format = PNG_FORMAT_RGB_COLORMAP;
        image.colormap_entries = palette.size() / 3;
        png_alloc_size_t size = 0;
        if (!png_image_write_to_memory(&image, nullptr, &size, 0, pixels_.data(), 0, palette.data()))
            return {};
        std::string bytes(size, '\0');
        if (!png_image_write_to_memory(&image, bytes.data(), &size, 0, pixels_.data(), 0, palette.data()))
            return {};
        bytes.resize(size);
        return bytes;
    }

private:
    std::vector<std::uint8_t> pixels_;
};

struct Range {
    double low, high;
};

Range range_of(Chart const& chart) {
    Range range{chart.runs.front().front().low, chart.runs.front().front().high};
    auto const take = [&](double low, double high) {
        range = {std::min(range.low, low), std::max(range.high, high)};
    };
    for (auto const& run : chart.runs)
        for (auto const& point : run) take(point.low, point.high);
    for (auto const& band : chart.bands) take(band.low, band.high);
    constexpr double least_k = 2, margin = 0.08;
    double const more = std::max((range.high - range.low) * margin, (least_k - (range.high - range.low)) / 2);
    return {range.low - more, range.high + more};
}

// "64.1", in the chart's unit.
std::string number(double celsius, TemperatureUnit unit) {
    auto const text = show(Temperature{celsius}, unit);
    return text.substr(0, text.find(' '));
}

}  // namespace

std::string png_of(Chart const& chart) {
    Canvas canvas;
    auto const range = range_of(chart);
    auto const x = [&](double at_s) { return left + at_s / chart.span_s * (right - left); };
    auto const y = [&](double celsius) {
        return bottom - (celsius - range.low) / (range.high - range.low) * (bottom - top);
    };
    auto const pixel = [](double at) { return static_cast<int>(std::lround(at)); };
    for (auto const& band : chart.bands) {
        int const from = pixel(x(band.from_s)), to = pixel(x(band.to_s));
        canvas.fill(from, pixel(y(band.high)), to, pixel(y(band.low)), area);
        for (double const limit : {band.low, band.high})
            canvas.fill(from, pixel(y(limit)), to, pixel(y(limit)), edge);
    }
    canvas.fill(left, top, left, bottom, frame);
    canvas.fill(left, bottom, right, bottom, frame);
    for (auto const& run : chart.runs) {
        auto const* before = &run.front();
        for (auto const& point : run) {
            canvas.line(x(before->at_s), y((before->low + before->high) / 2), x(point.at_s),
                        y((point.low + point.high) / 2));
            canvas.line(x(point.at_s), y(point.low), x(point.at_s), y(point.high));
            before = &point;
        }
    }
    std::vector<double> limits{range.low, range.high};
    if (!chart.bands.empty())
        limits.insert(limits.begin(), {chart.bands.back().low, chart.bands.back().high});
    std::vector<int> taken;
    constexpr int apart = glyph_height * scale + 4;
    for (double const limit : limits) {
        int const at = pixel(y(limit)) - glyph_height * scale / 2;
        if (std::ranges::any_of(taken, [&](int other) { return std::abs(other - at) < apart; })) continue;
        taken.push_back(at);
        auto const text = number(limit, chart.unit);
        canvas.text(left - 6 - static_cast<int>(text.size()) * step, at, text);
    }
    canvas.text(left, bottom + 8, chart.from);
    canvas.text(right - static_cast<int>(chart.to.size()) * step, bottom + 8, chart.to);
    return canvas.png();
}

}  // namespace ingle::email
