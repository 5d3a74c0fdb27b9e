// What a forecast remembers over a restart: the means of the readings, and the bank as it is.
#include <charconv>
#include <cmath>
#include <string>

#include "daemon/forecast/core_forecast.hpp"

namespace ingle {
namespace {

constexpr char bank_follows = ';';

void put(std::string& text, double value) {
    char buffer[32];
    text.append(buffer, std::to_chars(buffer, buffer + sizeof buffer, value).ptr);
    text += ' ';
}

bool take(std::string_view& text, double& value) {
    auto const read = std::from_chars(text.data(), text.data() + text.size(), value);
    auto const length = static_cast<std::size_t>(read.ptr - text.data());
    if (read.ec != std::errc{} || !std::isfinite(value) || length >= text.size() || text[length] != ' ')
        return false;
    text.remove_prefix(length + 1);
    return true;
}

// What a bank's numbers mean depends on these.
std::string text_of(DishEntries const& entries) {
    std::string text = std::to_string(static_cast<int>(entries.surroundings)) + ' ';
    put(text, entries.shape ? static_cast<int>(*entries.shape) : -1);
    put(text, entries.thickness_m.value_or(0));
    put(text, entries.mass_kg.value_or(0));
    return text;
}

}  // namespace

std::string CoreForecast::as_text() const {
    if (empty_) return {};
    return bank_ ? history_.as_text() + bank_follows + bank_text() : history_.as_text();
}

std::string CoreForecast::bank_text() const {
    std::string text = "bank-1 ";
    for (double const x : {start_c_, start_sd_k_, improved_s_}) put(text, x);
    return text + text_of(entries_) + bank_->as_text();
}

void CoreForecast::read_bank(std::string_view text) {
    auto const skip = [&](std::string_view start) {
        if (!text.starts_with(start)) return false;
        text.remove_prefix(start.size());
        return true;
    };
    double start = 0, start_sd = 0, improved = 0;
    if (!history_.has_medium() || history_.size() == 0 || !skip("bank-1 ")) return;
    if (!take(text, start) || !take(text, start_sd) || !take(text, improved)) return;
    start_c_ = start, start_sd_k_ = start_sd;
    if (!skip(text_of(entries_))) return;
    Bank bank(entries_, history_, start_c_, start_sd_k_);
    if (!bank.read(text, history_)) return;
    bank_.emplace(std::move(bank));
    improved_s_ = improved;
}

void CoreForecast::from_text(std::string_view text, Instant first) {
    auto const entries = entries_;
    begin(entries);
    auto const readings = text.substr(0, text.find(bank_follows));
    if (!history_.from_text(readings)) return;
    empty_ = false;
    first_ = first;
    newest_ = first + from_seconds(history_.newest_t());
    start_c_ = history_.newest_core();
    for (std::size_t i = history_.size(); i-- > 0;)
        if (history_.has_core(i)) start_c_ = history_.core(i);
    if (readings.size() < text.size()) read_bank(text.substr(readings.size() + 1));
}

}  // namespace ingle
