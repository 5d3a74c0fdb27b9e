// How the CLI writes values for people: temperatures, aligned columns, wrapped lines.
#pragma once

#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "config/quantity.hpp"

namespace ingle::cli {

// "1.50", "-3": no exponent, no "-0".
std::string fixed(double value, int decimals, bool sign = false);
// "185.2 degF", "185.2"; "-" where there is none.
std::string temperature_text(std::optional<double> celsius, TemperatureUnit unit, bool with_unit = true);
std::string slope_text(double kelvin_per_min, TemperatureUnit unit);       // "+0.3 degF/min"
std::string band_text(double low_c, double high_c, TemperatureUnit unit);  // "180 to 190 degF"

// Text in columns, each as wide as its widest cell; the last one is not padded. Counts code points, so that
// "°" and "é" align.
class Table {
public:
    void row(std::vector<std::string> cells) { rows_.push_back(std::move(cells)); }
    void right(std::size_t column);  // align this column to the right
    std::string text(std::string_view indent = "  ") const;
    bool empty() const { return rows_.empty(); }

private:
    std::vector<std::vector<std::string>> rows_;
    std::vector<std::size_t> right_;
};

std::size_t width_of(std::string_view text);  // in code points
std::string wrapped(std::string_view text, std::size_t width, std::string_view indent);

// Is it a terminal that may be styled (NO_COLOR, TERM=dumb), how wide (COLUMNS), and does it take more than
// ASCII?
struct Terminal {
    bool interactive = false, styled = false, unicode = false;
    std::size_t width = 100, height = 0;  // 0: as many lines as there are
    // Bold, and red, where styled; never the only bearer of a meaning.
    std::string strong(std::string text) const;
    std::string alert(std::string text) const;
};
Terminal terminal();

}  // namespace ingle::cli
