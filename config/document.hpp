// A TOML text as a plain tree that keeps where everything stands; the only door to the TOML parser.
// Made and used by config/load. Pure; any thread.
#pragma once

#include <cstdint>
#include <string>
#include <string_view>
#include <variant>
#include <vector>

#include "config/load.hpp"

namespace ingle {

struct Node {
    struct Entry;
    using Table = std::vector<Entry>;
    using List = std::vector<Node>;
    // monostate: a TOML date or time, which no key of ours takes.
    std::variant<std::monostate, std::string, std::int64_t, double, bool, List, Table> value;
    Where where;     // of the value
    Where named_at;  // of its key

    std::string const* text() const { return std::get_if<std::string>(&value); }
    List const* list() const { return std::get_if<List>(&value); }
    Table const* table() const { return std::get_if<Table>(&value); }
    Node const* find(std::string_view name) const;  // nullptr if it is no table or has no such key
};

struct Node::Entry {
    std::string name;
    Node node;
};

// "a text", "a whole number", ...: what a value is, in words.
std::string_view kind_of(Node const& node);

// The whole document as one table. A syntax error goes to `errors` (TOML stops at the first) and leaves the
// table empty.
Node parse_document(std::string_view text, std::string const& file, std::vector<ConfigError>& errors);

}  // namespace ingle
