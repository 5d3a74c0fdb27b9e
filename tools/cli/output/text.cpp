#include "tools/cli/output/text.hpp"

#include <sys/ioctl.h>
#include <unistd.h>

#include <algorithm>
#include <charconv>
#include <cmath>
#include <cstdlib>
#include <iomanip>
#include <locale>
#include <sstream>

#include "tools/cli/output/shown_text.hpp"

namespace ingle::cli {
std::string fixed(double value, int decimals, bool sign) {
    std::ostringstream out;
    out.imbue(std::locale::classic());
    if (sign) out << std::showpos;
    out << std::fixed << std::setprecision(decimals) << value;
    auto text = out.str();
    // "-0.0" is a rounding, not a temperature.
    if (text.find_first_not_of("-0.") == std::string::npos && text.front() == '-') text.erase(0, 1);
    return text;
}

std::string temperature_text(std::optional<double> celsius, TemperatureUnit unit, bool with_unit) {
    if (!celsius) return "-";
    auto const text = fixed(to_unit(Temperature{*celsius}, unit), 1);
    return with_unit ? text + " " + std::string(unit_name(unit)) : text;
}

std::string slope_text(double kelvin_per_min, TemperatureUnit unit) {
    auto const text = fixed(to_unit(TemperatureDifference{kelvin_per_min}, unit), 1, true);
    if (text.find_first_not_of("+0.") == std::string::npos) return "steady";
    return text + " " + std::string(unit_name(unit)) + "/min";
}

std::string band_text(double low_c, double high_c, TemperatureUnit unit) {
    auto const short_text = [&](double celsius) {
        auto const text = fixed(to_unit(Temperature{celsius}, unit), 1);
        return text.ends_with(".0") ? text.substr(0, text.size() - 2) : text;
    };
    return short_text(low_c) + " to " + short_text(high_c) + " " + std::string(unit_name(unit));
}

std::size_t width_of(std::string_view text) {
    return static_cast<std::size_t>(
        std::ranges::count_if(text, [](char c) { return (static_cast<unsigned char>(c) & 0xC0) != 0x80; }));
}

void Table::right(std::size_t column) {
    right_.push_back(column);
}

std::string Table::text(std::string_view indent) const {
    std::vector<std::size_t> widths;
    for (auto const& row : rows_) {
        if (widths.size() < row.size()) widths.resize(row.size());
        for (std::size_t i = 0; i < row.size(); ++i) widths[i] = std::max(widths[i], width_of(row[i]));
    }
    std::string out;
    for (auto const& row : rows_) {
        std::string line(indent);
        for (std::size_t i = 0; i < row.size(); ++i) {
            std::string const pad(widths[i] - width_of(row[i]), ' ');
            bool const to_right = std::ranges::find(right_, i) != right_.end();
            line += (to_right ? pad + row[i] : row[i] + pad) + "  ";
        }
        line.erase(line.find_last_not_of(' ') + 1);
        out += line + "\n";
    }
    return out;
}

namespace {

bool is_number(std::string_view word) {
    while (!word.empty() && (word.front() == '(' || word.front() == '+' || word.front() == '-'))
        word.remove_prefix(1);
    return !word.empty() && word.find_first_not_of("0123456789.") == std::string_view::npos;
}

bool is_unit(std::string_view word) {
    constexpr std::string_view units[] = {"degC", "degF", "degF/min", "degC/min", "K",
                                          "s",    "min",  "h",        "days",     "%"};
    return std::ranges::find(units, word) != std::end(units);
}

}  // namespace

std::string wrapped(std::string_view text, std::size_t width, std::string_view indent) {
    std::string out(indent);
    std::size_t used = 0;
    while (!text.empty()) {
        auto end = std::min(text.find(' '), text.size());
        if (is_number(text.substr(0, end))) {
            auto const after = text.substr(std::min(end + 1, text.size()));
            auto const unit = after.substr(0, std::min(after.find_first_of(" ,.;:)"), after.size()));
            if (is_unit(unit)) end += 1 + std::min(after.find(' '), after.size());
        }
        auto const word = text.substr(0, end);
        if (used > 0 && used + 1 + width_of(word) + indent.size() > width) {
            out.append("\n").append(indent);
            used = 0;
        }
        if (used > 0) out += ' ', ++used;
        out += word;
        used += width_of(word);
        text.remove_prefix(std::min(end + 1, text.size()));
    }
    return out;
}

std::string Terminal::strong(std::string text) const {
    return styled ? bold_on + std::move(text) + bold_off : text;
}

std::string Terminal::alert(std::string text) const {
    return styled ? alert_on + std::move(text) + bold_off : text;
}

Terminal terminal() {
    Terminal found;
    auto const variable = [](char const* name) {
        auto const* value = std::getenv(name);
        return std::string(value ? value : "");
    };
    found.interactive = isatty(STDOUT_FILENO) != 0;
    found.styled = found.interactive && variable("NO_COLOR").empty() && variable("TERM") != "dumb";
    auto locale = variable("LC_ALL");
    if (locale.empty()) locale = variable("LC_CTYPE");
    if (locale.empty()) locale = variable("LANG");
    found.unicode = locale.find("UTF-8") != std::string::npos || locale.find("utf8") != std::string::npos;
    winsize size{};
    if (found.interactive && ioctl(STDOUT_FILENO, TIOCGWINSZ, &size) == 0 && size.ws_col >= 40) {
        found.width = size.ws_col;
        found.height = size.ws_row;
    }
    auto const columns = variable("COLUMNS");
    std::size_t asked = 0;
    auto const read = std::from_chars(columns.data(), columns.data() + columns.size(), asked);
    if (read.ec == std::errc() && asked >= 40 && asked <= 400) found.width = asked;
    return found;
}

}  // namespace ingle::cli
