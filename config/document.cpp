#include "config/document.hpp"

#include <toml++/toml.h>

#include <algorithm>

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

struct InOurWords {
    std::string_view place, said;  // parts of what the parser says
    std::string_view wrong, right;
};

// The first that fits, so the general ones stand last.
constexpr InOurWords syntax_words[] = {
    {"", "cannot redefine existing table", "this heading stands twice",
     "give each [heading] once, or write [[heading]] for one more of a kind"},
    {"", "cannot redefine", "this key stands twice here", "keep one of the two"},
    {"table header", "", "a heading has no end", "write [kitchen], or [[probe]] for one of several"},
    {"string", "control characters", "a text has no end on its line",
     "close it with a quote: \"village hall\""},
    {"string", "", "a text is not closed or has a \\ that means nothing",
     "close it with a quote, and write \\\\ for one \\"},
    {"array", "", "a list has no end or lacks a comma", "write [\"180 degF\", \"190 degF\"]"},
    {"inline table", "", "a { has no } or lacks a comma", "write { core = \"165 degF\", time = \"2 h\" }"},
    {"", "expected '='", "there is no = after the key", "write key = value, one a line"},
    {"", "expected keys, tables", "a line begins with what is no key", "write key = value, or [heading]"},
    {"", "value-terminator", "this value is neither a text in quotes nor a number",
     "put words and quantities in quotes: \"240 m\""},
    {"key-value pair", "end-of-file", "there is no value after the key", "write key = value, one a line"},
    {"", "expected value", "there is no value after the =", "write a text in quotes, or a number"},
    {"", "leading zeroes", "a number begins with 0", "write it without, or as a text in quotes"},
    {"", "expected a comment or whitespace", "more stands after the value",
     "put a value with its unit in quotes, \"240 m\", and one key on each line"},
    {"", "", "this value is neither a text in quotes nor a number",
     "put words and quantities in quotes: \"240 m\""},
};

InOurWords const& in_our_words(std::string_view said) {
    auto const part = said.find(':');
    auto const place = said.substr(0, part == said.npos ? 0 : part);
    return *std::ranges::find_if(syntax_words, [&](InOurWords const& one) {
        return place.find(one.place) != place.npos && said.find(one.said) != said.npos;
    });
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
        auto const& words = in_our_words(error.description());
        errors.push_back(
            {where_of(error.source(), file), "syntax", std::string(words.wrong), std::string(words.right)});
        return empty;
    }
}

}  // namespace ingle
