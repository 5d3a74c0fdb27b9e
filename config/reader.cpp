#include "config/reader.hpp"

#include <algorithm>
#include <charconv>
#include <numeric>

#include "config/plain_text.hpp"

namespace ingle {
namespace {

char lower(char c) {
    return c >= 'A' && c <= 'Z' ? static_cast<char>(c - 'A' + 'a') : c;
}

// Letters to add, to drop, to exchange for another or to swap with their neighbour; capitals are as small
// ones.
std::size_t edit_distance(std::string_view a, std::string_view b) {
    std::vector<std::size_t> before_last, last(b.size() + 1), row(b.size() + 1);
    std::iota(last.begin(), last.end(), std::size_t{0});
    for (std::size_t i = 1; i <= a.size(); ++i) {
        row[0] = i;
        for (std::size_t j = 1; j <= b.size(); ++j) {
            bool const same = lower(a[i - 1]) == lower(b[j - 1]);
            row[j] = std::min({last[j] + 1, row[j - 1] + 1, last[j - 1] + (same ? 0U : 1U)});
            bool const swapped =
                i > 1 && j > 1 && lower(a[i - 1]) == lower(b[j - 2]) && lower(a[i - 2]) == lower(b[j - 1]);
            if (swapped) row[j] = std::min(row[j], before_last[j - 2] + 1);
        }
        before_last = last;
        last = row;
    }
    return last[b.size()];
}

}  // namespace

std::string in_quotes(std::string_view text) {
    return '"' + std::string(text) + '"';
}

std::string listed(std::span<std::string_view const> words) {
    std::string text;
    for (std::size_t i = 0; i < words.size(); ++i)
        text += (i == 0 ? "" : i + 1 == words.size() ? " or " : ", ") + in_quotes(words[i]);
    return text;
}

std::optional<std::string_view> nearest(std::string_view word, std::span<std::string_view const> known) {
    std::optional<std::string_view> best;
    // A third of the letters may be wrong; two neighbours that were swapped count as one.
    std::size_t limit = std::max<std::size_t>(2, word.size() / 3);
    for (auto const candidate : known)
        if (auto const d = edit_distance(word, candidate); d <= limit && d < candidate.size()) {
            if (best && d == limit) continue;
            limit = d;
            best = candidate;
        }
    return best;
}

Reader::Reader(Node const& table, std::string prefix, std::vector<ConfigError>& errors)
    : table_(table), prefix_(std::move(prefix)), errors_(errors) {}

Node const* Reader::take(std::string_view key) {
    known_.emplace(key);
    return table_.find(key);
}

void Reader::need(std::string_view key, std::string_view right) {
    if (!take(key)) wrong(table_.where, key, "is missing", std::string(right));
}

void Reader::wrong(Where const& where, std::string_view key, std::string what, std::string right) {
    auto full = prefix_;
    if (!full.empty() && !key.empty()) full += '.';
    full += key;
    errors_.push_back({where, std::move(full), std::move(what), std::move(right)});
}

void Reader::wrong(std::string_view key, std::string what, std::string right) {
    wrong(where(key), key, std::move(what), std::move(right));
}

Where Reader::where(std::string_view key) const {
    auto const* node = table_.find(key);
    return node ? node->where : table_.where;
}

std::optional<std::string> Reader::text(std::string_view key) {
    auto const* node = take(key);
    if (!node) return std::nullopt;
    if (auto const* value = node->text(); value && !is_plain_text(*value)) {
        wrong(node->where, key, "holds a control character, or one that turns the writing",
              "letters that show");
        return std::nullopt;
    }
    if (auto const* value = node->text(); value && !value->empty()) return *value;
    wrong(node->where, key, node->text() ? "is empty" : "is " + std::string(kind_of(*node)),
          node->text() ? "say what it is, or leave the key out" : "write a text in quotes");
    return std::nullopt;
}

std::optional<std::string> Reader::word(std::string_view key, std::span<std::string_view const> allowed) {
    auto value = text(key);
    if (!value || std::ranges::find(allowed, *value) != allowed.end()) return value;
    auto const meant = nearest(*value, allowed);
    wrong(key, in_quotes(*value) + " is not known",
          (meant ? "did you mean " + in_quotes(*meant) + "? It may be " : "write ") + listed(allowed));
    return std::nullopt;
}

std::optional<bool> Reader::flag(std::string_view key) {
    auto const* node = take(key);
    if (!node) return std::nullopt;
    if (auto const* value = std::get_if<bool>(&node->value)) return *value;
    wrong(node->where, key, "is " + std::string(kind_of(*node)), "write true or false, without quotes");
    return std::nullopt;
}

std::optional<double> Reader::number(std::string_view key) {
    auto const* node = take(key);
    if (!node) return std::nullopt;
    if (auto const* whole = std::get_if<std::int64_t>(&node->value)) return static_cast<double>(*whole);
    if (auto const* value = std::get_if<double>(&node->value); value && *value - *value == 0) return *value;
    wrong(node->where, key, "is " + std::string(kind_of(*node)), "write a finite number without quotes");
    return std::nullopt;
}

std::vector<std::string> Reader::texts(std::string_view key) {
    auto const* node = take(key);
    if (!node) return {};
    std::vector<std::string> out;
    auto const* list = node->list();
    if (list)
        for (auto const& item : *list)
            if (item.text()) out.push_back(*item.text());
    if (!list || out.size() != list->size()) {
        wrong(node->where, key, "is not a list of texts", "write a list like [\"one\", \"two\"]");
        return {};
    }
    return out;
}

std::optional<std::string> Reader::quantity_text(Node const& node, std::string_view key) {
    if (auto const* value = node.text()) return *value;
    // A bare number goes to the parser as it stands: the parser knows what units it could have meant.
    char buffer[40];
    if (auto const* whole = std::get_if<std::int64_t>(&node.value))
        return std::string(buffer, std::to_chars(buffer, buffer + sizeof buffer, *whole).ptr);
    if (auto const* value = std::get_if<double>(&node.value); value && *value - *value == 0)
        return std::string(buffer, std::to_chars(buffer, buffer + sizeof buffer, *value).ptr);
    wrong(node.where, key, "is " + std::string(kind_of(node)), "write a number with its unit, in quotes");
    return std::nullopt;
}

std::optional<Range> Reader::range(std::string_view key) {
    auto const* node = take(key);
    if (!node) return std::nullopt;
    auto const* list = node->list();
    if (!list || list->size() != 2) {
        wrong(node->where, key,
              list ? "has " + std::to_string(list->size()) + " limits instead of two"
                   : "is " + std::string(kind_of(*node)),
              "write low and high, like [\"180 degF\", \"190 degF\"]");
        return std::nullopt;
    }
    auto const low = quantity((*list)[0], key, parse_temperature);
    auto const high = quantity((*list)[1], key, parse_temperature);
    if (!low || !high) return std::nullopt;
    if (*low < *high) return Range{*low, *high};
    auto const& low_text = *(*list)[0].text();
    auto const& high_text = *(*list)[1].text();
    wrong(node->where, key,
          "low " + in_quotes(low_text) + (*low == *high ? " equals high " : " is above high ") +
              in_quotes(high_text),
          *low == *high ? "leave some room between the two"
                        : "write [" + in_quotes(high_text) + ", " + in_quotes(low_text) + "]");
    return std::nullopt;
}

Node::List const* Reader::tables(std::string_view key) {
    auto const* node = take(key);
    if (!node) return nullptr;
    auto const* list = node->list();
    auto const all_tables =
        list && std::ranges::all_of(*list, [](Node const& item) { return item.table() != nullptr; });
    if (all_tables) return list;
    wrong(node->where, key, "is " + std::string(kind_of(*node)),
          "begin each one with [[" + std::string(key) + "]]");
    return nullptr;
}

void Reader::refuse_the_rest() {
    if (!table_.table()) return;
    std::vector<std::string_view> const known(known_.begin(), known_.end());
    for (auto const& [key, node] : *table_.table()) {
        if (known_.contains(key)) continue;
        auto const meant = nearest(key, known);
        wrong(node.named_at, key, "unknown key",
              meant ? "did you mean " + in_quotes(*meant) + "?" : "known here: " + listed(known));
    }
}

std::optional<FreeValue> Reader::free_value(Node const& node, std::string_view key) {
    FreeValue out{{}, node.where};
    if (auto const* text = node.text()) {
        out.value = *text;
    } else if (auto const* whole = std::get_if<std::int64_t>(&node.value)) {
        out.value = *whole;
    } else if (auto const* real = std::get_if<double>(&node.value)) {
        out.value = *real;
    } else if (auto const* yes = std::get_if<bool>(&node.value)) {
        out.value = *yes;
    } else if (auto const* list = node.list()) {
        std::vector<std::string> words;
        std::vector<std::int64_t> numbers;
        for (auto const& item : *list) {
            if (item.text()) words.push_back(*item.text());
            if (auto const* each = std::get_if<std::int64_t>(&item.value)) numbers.push_back(*each);
        }
        if (words.size() == list->size()) {
            out.value = std::move(words);
        } else if (numbers.size() == list->size()) {
            out.value = std::move(numbers);
        } else {
            wrong(node.where, key, "is a mixed list", "write only texts or only whole numbers in it");
            return std::nullopt;
        }
    } else {
        wrong(node.where, key, "is " + std::string(kind_of(node)),
              "write a text, a number, true or false, or a list");
        return std::nullopt;
    }
    return out;
}

FreeKeys Reader::take_the_rest() {
    FreeKeys out;
    if (!table_.table()) return out;
    for (auto const& [key, node] : *table_.table())
        if (!known_.contains(key))
            if (auto value = free_value(node, key)) out.emplace(key, std::move(*value));
    return out;
}

}  // namespace ingle
