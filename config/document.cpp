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

// Each dot of a key is a table within a table, and those are read and freed by functions that call
// themselves: as deep as a line of this length can go, any thread's stack suffices.
constexpr std::size_t longest_line = 4096;

int too_long_line(std::string_view text) {
    int line = 1;
    for (std::size_t begin = 0; begin < text.size(); ++line) {
        auto const end = std::min(text.find('\n', begin), text.size());
        if (end - begin > longest_line) return line;
        begin = end + 1;
    }
    return 0;
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
    Node empty;
    empty.value = Node::Table{};
    empty.where = {file, 1, 1};
    if (int const line = too_long_line(text); line > 0) {
        errors.push_back({{file, line, 1},
                          "syntax",
                          "the line is longer than " + std::to_string(longest_line) + " characters",
                          "break it into several"});
        return empty;
    }
    try {
        auto const table = toml::parse(text, file);
        auto node = convert(table, file);
        node.where = {file, 1, 1};
        return node;
    } catch (toml::parse_error const& error) {
        errors.push_back({where_of(error.source(), file), "syntax", std::string(error.description()),
                          "a text in quotes, or a number with a point, after \"key =\""});
        return empty;
    }
}

}  // namespace ingle
