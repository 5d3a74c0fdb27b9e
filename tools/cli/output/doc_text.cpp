#include <algorithm>
#include <sstream>

#include "tools/cli/output/doc.hpp"
#include "tools/cli/output/fitted.hpp"
#include "tools/cli/output/text.hpp"

namespace ingle::cli {
namespace {

// What a row says without its columns: "core; begin 40.1 degF; end 165.0 degF".
std::string in_a_line(Block const& block, std::vector<std::string> const& row) {
    std::string text;
    for (std::size_t i = 0; i < row.size(); ++i) {
        if (row[i].empty()) continue;
        text += text.empty() ? "" : "; ";
        if (i > 0 && i < block.head.size() && !block.head[i].empty()) text += block.head[i] + " ";
        text += row[i];
    }
    return "  " + text;
}

// Rows aligned by Table, or a line each where that is too wide; each followed by its detail.
void add_table(std::string& out, Block const& block, std::size_t width) {
    if (!block.text.empty()) out += wrapped(block.text, width, "  ") + "\n";
    Table table;
    table.row(block.head);
    for (auto const& row : block.rows) table.row(row);
    for (auto const column : block.right) table.right(column);
    std::istringstream lines(table.text("  "));
    std::vector<std::string> rows;
    bool too_wide = false;
    for (std::string line; std::getline(lines, line); rows.push_back(line))
        too_wide = too_wide || width_of(line) > width;
    if (!too_wide) out += rows.front() + "\n";
    for (std::size_t row = 0; row < block.rows.size(); ++row) {
        out += (too_wide ? fitted(in_a_line(block, block.rows[row]), width) : rows[row + 1]) + "\n";
        if (row < block.details.size() && !block.details[row].empty())
            out += wrapped(block.details[row], width, "      ") + "\n";
    }
}

}  // namespace

std::string doc_text(Doc const& doc, std::size_t width) {
    std::string out = wrapped(doc.title, width, "") + "\n" + wrapped(doc.subtitle, width, "") + "\n";
    for (auto const& section : doc.sections) {
        std::string body;
        bool first = true;
        for (auto const& block : section.blocks) {
            if (block.kind == Block::Kind::chart) continue;
            if (!first) body += block.kind == Block::Kind::table ? "\n" : "";
            first = false;
            switch (block.kind) {
                case Block::Kind::paragraph:
                case Block::Kind::caution:
                    body += wrapped(block.text, width, "  ") + "\n";
                    break;
                case Block::Kind::list:
                    for (auto const& item : block.items) {
                        auto line = wrapped(item, width, "    ");
                        line[2] = '-';
                        body += line + "\n";
                    }
                    break;
                case Block::Kind::table:
                    add_table(body, block, width);
                    break;
                case Block::Kind::chart:
                    break;
            }
        }
        if (body.empty()) continue;
        auto title = section.title;
        std::ranges::transform(title, title.begin(), [](char c) {
            return c >= 'a' && c <= 'z' ? static_cast<char>(c - 'a' + 'A') : c;
        });
        out += "\n" + (title.empty() ? title : title + "\n") + body;
    }
    return out;
}

}  // namespace ingle::cli
