// A page as its parts, so that the terminal and the HTML file say the same. Plain values.
#pragma once

#include <cstddef>
#include <string>
#include <string_view>
#include <vector>

namespace ingle::cli {

struct Block {
    enum class Kind { paragraph, caution, list, table, chart } kind = Kind::paragraph;
    std::string text;                // paragraph, caution; a table's heading
    std::vector<std::string> items;  // list
    std::vector<std::string> head;   // table
    std::vector<std::vector<std::string>> rows;
    std::vector<std::size_t> right;    // columns aligned to the right
    std::vector<std::string> details;  // of each row, below it; "" = none
    std::string wide, narrow;          // chart: SVG for a page and for a phone; the terminal leaves it out
};
struct Section {
    std::string title;
    std::vector<Block> blocks;

    Block& add(Block::Kind kind, std::string text = "") {
        blocks.push_back({});
        blocks.back().kind = kind;
        blocks.back().text = std::move(text);
        return blocks.back();
    }
    void say(std::string text) { add(Block::Kind::paragraph, std::move(text)); }
    Block& table(std::vector<std::string> head, std::string heading = "") {
        auto& made = add(Block::Kind::table, std::move(heading));
        made.head = std::move(head);
        return made;
    }
};
struct Doc {
    std::string title, subtitle;
    std::vector<Section> sections;
    bool one_sheet = false;  // printed as small as it takes to fit on one sheet, if that can be read

    Section& section(std::string title_of) {
        sections.push_back({std::move(title_of), {}});
        return sections.back();
    }
};

std::string doc_text(Doc const& doc, std::size_t width);
// One file that needs nothing else: no script, no font, no picture from anywhere.
std::string doc_html(Doc const& doc);

std::string html_escaped(std::string_view text);

}  // namespace ingle::cli
