#include "daemon/model/memory.hpp"

#include <charconv>
#include <cmath>

namespace ingle {
namespace {

template <class T>
std::string to_text(T value) {
    char buffer[32];
    auto const end = std::to_chars(buffer, buffer + sizeof buffer, value).ptr;
    return {buffer, end};
}

// The whole of `text` or nothing: a damaged value is a missing one, never half of a number.
template <class T>
std::optional<T> whole(std::string_view text) {
    T value{};
    auto const [end, error] = std::from_chars(text.data(), text.data() + text.size(), value);
    if (error != std::errc{} || end != text.data() + text.size()) return std::nullopt;
    return value;
}

}  // namespace

void Memory::put(std::string key, double value) {
    values_[std::move(key)] = to_text(value);
}

void Memory::put(std::string key, std::int64_t value) {
    values_[std::move(key)] = to_text(value);
}

void Memory::put(std::string key, Instant at) {
    values_[std::move(key)] = "@" + to_text(at.time_since_epoch().count());
}

void Memory::put_as_in(Memory const& other, std::string const& key) {
    if (auto const at = other.instant(key))
        put(key, *at);
    else if (auto text = other.text(key))
        put(key, std::move(*text));
}

std::optional<std::string> Memory::text(std::string_view key) const {
    auto const found = values_.find(key);
    if (found == values_.end()) return std::nullopt;
    return found->second;
}

std::optional<double> Memory::number(std::string_view key) const {
    auto const found = values_.find(key);
    if (found == values_.end()) return std::nullopt;
    auto const value = whole<double>(found->second);
    return value && std::isfinite(*value) ? value : std::nullopt;
}

std::optional<std::int64_t> Memory::integer(std::string_view key) const {
    auto const found = values_.find(key);
    return found == values_.end() ? std::nullopt : whole<std::int64_t>(found->second);
}

std::optional<Instant> Memory::as_written(std::string_view key) const {
    auto const found = values_.find(key);
    if (found == values_.end() || !found->second.starts_with('@')) return std::nullopt;
    auto const ms = whole<std::int64_t>(std::string_view(found->second).substr(1));
    if (!ms) return std::nullopt;
    return Instant(Span(*ms));
}

std::optional<Instant> Memory::instant(std::string_view key, Span ahead) const {
    auto const written = as_written(key);
    if (!written) return std::nullopt;
    return *written + (is_newer(*written, ahead) ? newer_->shift : shift_);
}

bool Memory::is_placed(std::string_view key, Span ahead) const {
    auto const written = as_written(key);
    return !written || !is_newer(*written, ahead) || newer_->placed;
}

}  // namespace ingle
