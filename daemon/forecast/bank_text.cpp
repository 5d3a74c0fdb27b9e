// A bank as text, so that a restart goes on where it was: its draws and what each body is. All else is
// worked out anew from the history.
#include <charconv>
#include <cmath>
#include <string>

#include "daemon/forecast/bank.hpp"

namespace ingle {
namespace {

constexpr std::string_view digits = "0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz+-";
constexpr std::size_t unknown_digits = 3, log_digits = 4;
constexpr std::size_t cell_digits = 1 + unknown_count * unknown_digits + 2 * log_digits;

// `value`, a multiple of the bank's grid, as so many digits of base 64.
void put(std::string& text, double value, std::size_t count) {
    auto const half = std::int64_t{1} << (6 * count - 1);
    auto whole = std::llround(value / Bank::grid) + half;
    for (std::size_t i = 0; i < count; ++i) text += digits[static_cast<std::size_t>((whole >> (6 * i)) & 63)];
}

bool take(std::string_view& text, double& value, std::size_t count) {
    std::int64_t whole = 0;
    for (std::size_t i = 0; i < count; ++i) {
        auto const digit = digits.find(text[i]);
        if (digit == std::string_view::npos) return false;
        whole |= static_cast<std::int64_t>(digit) << (6 * i);
    }
    text.remove_prefix(count);
    value = static_cast<double>(whole - (std::int64_t{1} << (6 * count - 1))) * Bank::grid;
    return true;
}

}  // namespace

std::string Bank::as_text() const {
    std::string text = std::to_string(draws_.state()) + ' ';
    text.reserve(text.size() + bodies * cell_digits);
    for (auto const& cell : cells_) {
        text += digits[static_cast<std::size_t>(cell.shape)];
        for (double const z : cell.z) put(text, z, unknown_digits);
        put(text, cell.log_weight, log_digits);
        put(text, cell.log_likelihood, log_digits);
    }
    return text;
}

bool Bank::read(std::string_view text, History const& history) {
    std::uint64_t state = 0;
    auto const read = std::from_chars(text.data(), text.data() + text.size(), state);
    if (read.ec != std::errc{}) return false;
    text.remove_prefix(static_cast<std::size_t>(read.ptr - text.data()));
    if (text.size() != 1 + bodies * cell_digits || text[0] != ' ') return false;
    text.remove_prefix(1);
    std::vector<Cell> cells;
    cells.reserve(bodies);
    while (!text.empty()) {
        auto const shape = digits.find(text[0]);
        if (shape > static_cast<std::size_t>(Shape::sphere)) return false;
        text.remove_prefix(1);
        Unknowns z{};
        double value = 0, log_weight = 0, log_likelihood = 0;
        for (auto& one : z) {
            if (!take(text, value, unknown_digits)) return false;
            one = static_cast<float>(value);
        }
        if (!take(text, log_weight, log_digits) || !take(text, log_likelihood, log_digits)) return false;
        auto& cell = cells.emplace_back(make(static_cast<Shape>(shape), z, history));
        cell.log_weight = log_weight, cell.log_likelihood = log_likelihood;
    }
    cells_ = std::move(cells);
    draws_ = Draws(state);
    believed_ = 1;
    followed_ = history.size();
    version_ = history.version();
    return true;
}

}  // namespace ingle
