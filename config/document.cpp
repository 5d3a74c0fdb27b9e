#include "config/document.hpp"

#include <toml++/toml.h>

namespace ingle {
namespace {

Where where_of(toml::source_region const& region, std::string const& file) {
    return {file, static_cast<int>(region.begin.line), static_cast<int>(region.begin.column)};
}

Node convert(toml::node const& from, std::string const& file) {
    Node node;
    node.where = node.named_at = where_of(from.source(), file);
    if (auto const* text = from.as_string()) {
        node.value = text->get();
    } else if (auto const* whole = from.as_integer()) {
        node.value = whole->get();
    } else if (auto const* number = from.as_floating_point()) {
        node.value = number->get();
    } else if (auto const* flag = from.as_boolean()) {
        node.value = flag->get();
    } else if (auto const* list = from.as_array()) {
        Node::List items;
        for (auto const& item : *list) items.push_back(convert(item, file));
        node.value = std::move(items);
    } else if (auto const* table = from.as_table()) {
        Node::Table entries;
        for (auto const& [key, value] : *table) {
            entries.push_back({std::string(key.str()), convert(value, file)});
            entries.back().node.named_at = where_of(key.source(), file);
        }
        node.value = std::move(entries);
    }
    return node;
}

}  // namespace

Node const* Node::find(std::string_view name) const {
    if (auto const* entries = table())
        for (auto const& [key, node] : *entries)
            if (key == name) return &node;
    return nullptr;
}

std::string_view kind_of(Node const& node) {
    switch (node.value.index()) {
        case 1:
            return "a text";
        case 2:
            return "a whole number";
        case 3:
            return "a number";
        case 4:
            return "true or false";
        case 5:
            return "a list";
        case 6:
            return "a table";
        default:
            return "a bare date or time";
    }
}

Node parse_document(std::string_view text, std::string const& file, std::vector<ConfigError>& errors) {
    try {
        auto const table = toml::parse(text, file);
        auto node = convert(table, file);
        node.where = {file, 1, 1};
        return node;
    } catch (toml::parse_error const& error) {
        errors.push_back({where_of(error.source(), file), "syntax", std::string(error.description()),
                          "a text in quotes, or a number with a point, after \"key =\""});
        Node empty;
        empty.value = Node::Table{};
        empty.where = {file, 1, 1};
        return empty;
    }
}

}  // namespace ingle
