#include "drivers/api/options.hpp"

#include <algorithm>
#include <charconv>
#include <numeric>
#include <optional>

namespace ingle {
namespace {

template <class T>
T const* find(std::map<std::string, OptionValue, std::less<>> const& values, std::string_view name) {
    auto const found = values.find(name);
    return found == values.end() ? nullptr : std::get_if<T>(&found->second);
}

std::string to_text(double value) {
    char buffer[32];
    return {buffer, std::to_chars(buffer, buffer + sizeof buffer, value).ptr};
}

std::string text_of(OptionValue const& value) {
    if (auto const* whole = std::get_if<std::int64_t>(&value)) return std::to_string(*whole);
    auto const* text = std::get_if<std::string>(&value);
    return text ? *text : std::string();
}

std::string in_quotes(std::string_view text) {
    return '"' + std::string(text) + '"';
}

std::size_t edit_distance(std::string_view a, std::string_view b) {
    std::vector<std::size_t> row(b.size() + 1);
    std::iota(row.begin(), row.end(), std::size_t{0});
    for (std::size_t i = 1; i <= a.size(); ++i) {
        auto diagonal = row[0]++;
        for (std::size_t j = 1; j <= b.size(); ++j) {
            auto const above = row[j];
            row[j] = std::min({above + 1, row[j - 1] + 1, diagonal + (a[i - 1] != b[j - 1])});
            diagonal = above;
        }
    }
    return row[b.size()];
}

std::string join(auto const& words) {
    std::string text;
    for (auto const& word : words) text += (text.empty() ? "" : ", ") + in_quotes(word);
    return text;
}

OptionProblem unknown_key(std::span<OptionInfo const> known, std::string const& key) {
    auto const nearest = std::ranges::min_element(
        known, {}, [&](OptionInfo const& info) { return edit_distance(key, info.name); });
    if (nearest != known.end() &&
        edit_distance(key, nearest->name) <=
            std::min(std::max<std::size_t>(2, key.size() / 3), nearest->name.size() - 1))
        return {key, "unknown key", "did you mean " + in_quotes(nearest->name) + "?"};
    std::vector<std::string_view> names;
    for (auto const& info : known) names.push_back(info.name);
    return {key, "unknown key", names.empty() ? "it takes no keys of its own" : "it knows " + join(names)};
}

std::string_view what_is_wanted(OptionKind kind) {
    switch (kind) {
        case OptionKind::text:
        case OptionKind::file:
        case OptionKind::certificate_file:
        case OptionKind::secret_file:
        case OptionKind::variable:
        case OptionKind::device:
            return "a text in quotes";
        case OptionKind::integer:
            return "a whole number without quotes";
        case OptionKind::number:
            return "a number without quotes";
        case OptionKind::boolean:
            return "true or false, without quotes";
        case OptionKind::integers:
            return "a list of whole numbers, like [1, 2]";
    }
    return "";
}

// Every number in the value, or nothing if it is of the wrong kind.
std::optional<std::vector<double>> numbers_of(OptionKind kind, OptionValue const& value) {
    auto const* whole = std::get_if<std::int64_t>(&value);
    switch (kind) {
        case OptionKind::text:
        case OptionKind::file:
        case OptionKind::certificate_file:
        case OptionKind::secret_file:
        case OptionKind::variable:
        case OptionKind::device:
            // A name that may also be a position or an offset (channel = 1) is read as its digits.
            if (whole || std::holds_alternative<std::string>(value)) return std::vector<double>{};
            return std::nullopt;
        case OptionKind::boolean:
            if (std::holds_alternative<bool>(value)) return std::vector<double>{};
            return std::nullopt;
        case OptionKind::integer:
            if (whole) return std::vector{static_cast<double>(*whole)};
            return std::nullopt;
        case OptionKind::number:
            if (whole) return std::vector{static_cast<double>(*whole)};
            if (auto const* number = std::get_if<double>(&value)) return std::vector{*number};
            return std::nullopt;
        case OptionKind::integers:
            if (whole) return std::vector{static_cast<double>(*whole)};
            if (auto const* list = std::get_if<std::vector<std::int64_t>>(&value))
                return std::vector<double>(list->begin(), list->end());
            return std::nullopt;
    }
    return std::nullopt;
}

void check_value(OptionInfo const& info, OptionValue const& value, std::vector<OptionProblem>& out) {
    std::string const key(info.name);
    auto const numbers = numbers_of(info.kind, value);
    if (!numbers) {
        out.push_back({key, "is of the wrong kind", "write " + std::string(what_is_wanted(info.kind))});
        return;
    }
    if (is_text(info.kind)) {
        auto const text = text_of(value);
        if (!info.allowed.empty() && std::ranges::find(info.allowed, text) == info.allowed.end())
            out.push_back({key, in_quotes(text) + " is not understood", "one of " + join(info.allowed)});
        else if (info.required && text.empty())
            out.push_back({key, "is empty", std::string(info.help)});
        return;
    }
    if (info.least == info.most) return;
    for (auto const number : *numbers)
        if (!(number >= info.least && number <= info.most)) {
            out.push_back({key, to_text(number) + " is out of range",
                           "from " + to_text(info.least) + " to " + to_text(info.most)});
            return;
        }
}

}  // namespace

std::string Options::text(std::string_view name, std::string_view otherwise) const {
    auto const found = values_.find(name);
    return found == values_.end() ? std::string(otherwise) : text_of(found->second);
}

std::int64_t Options::integer(std::string_view name, std::int64_t otherwise) const {
    auto const* value = find<std::int64_t>(values_, name);
    return value ? *value : otherwise;
}

double Options::number(std::string_view name, double otherwise) const {
    if (auto const* value = find<double>(values_, name)) return *value;
    auto const* whole = find<std::int64_t>(values_, name);
    return whole ? static_cast<double>(*whole) : otherwise;
}

bool Options::flag(std::string_view name, bool otherwise) const {
    auto const* value = find<bool>(values_, name);
    return value ? *value : otherwise;
}

std::vector<std::int64_t> Options::integers(std::string_view name) const {
    if (auto const* value = find<std::vector<std::int64_t>>(values_, name)) return *value;
    if (auto const* whole = find<std::int64_t>(values_, name)) return {*whole};
    return {};
}

std::vector<OptionProblem> problems(std::span<OptionInfo const> known, Options const& given) {
    std::vector<OptionProblem> out;
    for (auto const& [name, value] : given.all())
        if (std::ranges::find(known, name, &OptionInfo::name) == known.end())
            out.push_back(unknown_key(known, name));
    for (auto const& info : known) {
        auto const found = given.all().find(info.name);
        if (found != given.all().end())
            check_value(info, found->second, out);
        else if (info.required)
            out.push_back({std::string(info.name), "is missing", std::string(info.help)});
    }
    return out;
}

}  // namespace ingle
