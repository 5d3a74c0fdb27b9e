#include <algorithm>

#include "tools/cli/output/doc.hpp"
#include "tools/cli/output/text.hpp"

namespace ingle::cli {
namespace {

// Rows aligned by Table, each followed by its detail.
void add_table(std::string& out, Block const& block, std::size_t width) {
    if (!block.text.empty()) out += wrapped(block.text, width, "  ") + "\n";
    Table table;
    table.row(block.head);
    for (auto const& row : block.rows) table.row(row);
    for (auto const column : block.right) table.right(column);
    auto lines = table.text("  ");
    std::size_t row = 0;
    while (!lines.empty()) {
        auto const end = lines.find('\n') + 1;
        out += lines.substr(0, end);
        lines.erase(0, end);
        if (row > 0 && row <= block.details.size() && !block.details[row - 1].empty())
            out += wrapped(block.details[row - 1], width, "      ") + "\n";
        ++row;
    }
}

}  // namespace

std::string doc_text(Doc const& doc, std::size_t width) {
    std::string out = doc.title + "\n" + wrapped(doc.subtitle, width, "") + "\n";
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
        out += "\n" + title + "\n" + body;
    }
    return out;
}

}  // namespace ingle::cli
