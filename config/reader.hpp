// Reads one table of a document key by key and says what is wrong with each; a key that nobody asked for is
// unknown. Used by config/load only. Pure; any thread.
#pragma once

#include <optional>
#include <set>
#include <span>
#include <string>
#include <string_view>
#include <utility>
#include <vector>

#include "config/document.hpp"

namespace ingle {

std::string in_quotes(std::string_view text);
std::string listed(std::span<std::string_view const> words);  // "a", "b" or "c"
// The word that was probably meant, or nothing if none is near.
std::optional<std::string_view> nearest(std::string_view word, std::span<std::string_view const> known);

using Range = std::pair<Temperature, Temperature>;

class Reader {
public:
    // `prefix` begins the key of every error: "probe.stock".
    Reader(Node const& table, std::string prefix, std::vector<ConfigError>& errors);

    Node const* take(std::string_view key);  // nullptr if absent; the key counts as known from now on
    void need(std::string_view key, std::string_view right);  // an error if it is absent
    std::optional<std::string> text(std::string_view key);
    std::optional<std::string> word(std::string_view key, std::span<std::string_view const> allowed);
    std::optional<bool> flag(std::string_view key);
    std::optional<double> number(std::string_view key);
    std::vector<std::string> texts(std::string_view key);  // a list of texts
    template <class Q>
    std::optional<Q> quantity(std::string_view key, Parsed<Q> (*parse)(std::string_view)) {
        auto const* node = take(key);
        return node ? quantity(*node, key, parse) : std::nullopt;
    }
    std::optional<Range> range(std::string_view key);  // [low, high], low < high
    Node::List const* tables(std::string_view key);    // of an array of tables; nullptr if absent or no list

    void wrong(Where const& where, std::string_view key, std::string what, std::string right);
    void wrong(std::string_view key, std::string what,
               std::string right);  // where `key` stands, or the table
    Where where(std::string_view key) const;

    void refuse_the_rest();    // every key that was not taken is an error
    FreeKeys take_the_rest();  // or is somebody else's

private:
    template <class Q>
    std::optional<Q> quantity(Node const& node, std::string_view key, Parsed<Q> (*parse)(std::string_view)) {
        auto const as_text = quantity_text(node, key);
        if (!as_text) return std::nullopt;
        auto parsed = parse(*as_text);
        if (auto* error = std::get_if<QuantityError>(&parsed)) {
            wrong(node.where, key, std::move(error->wrong), std::move(error->right));
            return std::nullopt;
        }
        return std::get<Q>(parsed);
    }
    std::optional<std::string> quantity_text(Node const& node, std::string_view key);
    std::optional<FreeValue> free_value(Node const& node, std::string_view key);

    Node const& table_;
    std::string prefix_;
    std::vector<ConfigError>& errors_;
    std::set<std::string, std::less<>> known_;
};

}  // namespace ingle
