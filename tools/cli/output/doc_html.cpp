#include <algorithm>

#include "config/plain_text.hpp"
#include "tools/cli/output/doc.hpp"

namespace ingle::cli {
namespace {

// Lines differ in dash as well as in colour; the colours keep their distance for every kind of colour vision
// and have contrast enough on their ground.
constexpr std::string_view style = R"css(
:root{--ground:#fff;--ink:#1c1b19;--quiet:#55524c;--rule:#d6d2ca;--grid:#e7e4de;--band:#e3eee4;--edge:#7d9a80;
--hatch:#b9b3a8;--c0:#0b5a8f;--c1:#b8480b;--c2:#00694f;--c3:#7a3a68;--box:#f5f3ee}
@media(prefers-color-scheme:dark){:root{--ground:#1b1a18;--ink:#ece8e0;--quiet:#b3ada2;--rule:#4a4741;
--grid:#35332f;--band:#26382a;--edge:#6f9474;--hatch:#6b665d;--c0:#6fb9ee;--c1:#f29a5c;--c2:#4fc9a3;--c3:#d79ac4;
--box:#262521}}
*{box-sizing:border-box}
body{margin:0 auto;max-width:64rem;padding:1.5rem;background:var(--ground);color:var(--ink);
font:1rem/1.5 system-ui,sans-serif}
h1{font-size:1.6rem;line-height:1.2;margin:0}
.sub{color:var(--quiet);margin:.3rem 0 0}
h2{font-size:1.15rem;margin:2rem 0 .6rem;border-bottom:1px solid var(--rule);padding-bottom:.2rem}
h3{font-size:1rem;margin:1.2rem 0 .3rem}
p{margin:.5rem 0}
ul{margin:.5rem 0;padding-left:1.2rem}
.caution{border:1px solid var(--rule);border-left:6px solid var(--ink);background:var(--box);padding:.5rem .8rem}
.scroll{overflow-x:auto}
table{border-collapse:collapse;width:100%;font-variant-numeric:tabular-nums;font-size:.92rem}
th,td{text-align:left;vertical-align:top;padding:.25rem .7rem .25rem 0}
th{font-weight:600;border-bottom:1px solid var(--rule)}
td{border-top:1px solid var(--grid)}
tr.detail td{border-top:0;padding-top:0;color:var(--quiet)}
.d{position:sticky;left:0;max-width:calc(100vw - 2rem)}
.r{text-align:right}
svg{width:100%;height:auto;display:block;overflow:visible}
svg text{fill:var(--ink)}
svg .quiet{fill:var(--quiet)}
svg.narrow{display:none}
.line{fill:none;stroke-width:2.2;stroke-linejoin:round;stroke-linecap:butt}
.l0{stroke:var(--c0)}
.l1{stroke:var(--c1);stroke-dasharray:9 4}
.l2{stroke:var(--c2);stroke-dasharray:2 3}
.l3{stroke:var(--c3);stroke-dasharray:11 3 2 3}
.band{fill:var(--band);stroke:var(--edge);stroke-width:.8}
.gap-ground{fill:var(--ground)}.gap-line{stroke:var(--hatch);stroke-width:2}
.grid{stroke:var(--grid)}.axis{stroke:var(--quiet)}
.level{stroke:var(--quiet);stroke-dasharray:1 4;stroke-width:1.5}
.stage-line{stroke:var(--quiet);stroke-width:.8}
.alarm-tick{stroke:var(--ink);stroke-width:2}
.stage-mark{fill:var(--ground);stroke:var(--ink)}
.alarm-mark{fill:var(--ink)}
svg .alarm-text{fill:var(--ground);font-weight:600}
svg .stage-text{font-weight:600}
@media(max-width:40rem){body{padding:.9rem}svg.wide{display:none}svg.narrow{display:block}
table{font-size:.85rem}th,td{padding-right:.5rem}}
@media print{:root{--ground:#fff;--ink:#000;--quiet:#333;--rule:#999;--grid:#ddd;--band:#e8f0e8;--edge:#667;
--hatch:#aaa;--c0:#0b5a8f;--c1:#b8480b;--c2:#00694f;--c3:#7a3a68;--box:#fff}
@page{margin:14mm}html{font-size:9pt}html.sheet{font-size:8pt}html.sheet.small{font-size:6.5pt}
.sheet body{line-height:1.2}.sheet h1{font-size:1.3rem}.sheet h2{margin:.6rem 0 .1rem;padding:0}.sheet p{margin:.15rem 0}
.sheet .caution{padding:.15rem .5rem}.sheet td,.sheet th{padding:.06rem .5rem .06rem 0}body{max-width:none;padding:0}h2{margin-top:1.2rem}svg.wide{display:block;max-height:80mm}
svg.narrow{display:none}h2,h3{break-after:avoid}tr.detail{break-before:avoid}tr,.caution,svg{break-inside:avoid}.scroll{overflow:visible}.d{max-width:none}
*{-webkit-print-color-adjust:exact;print-color-adjust:exact}}
)css";

std::string table_html(Block const& block) {
    auto const cell = [&](std::string const& tag, std::size_t column, std::string const& text) {
        bool const right = std::ranges::find(block.right, column) != block.right.end();
        return "<" + tag + (right ? " class=\"r\"" : "") + ">" + html_escaped(text) + "</" + tag + ">";
    };
    std::string out;
    if (!block.text.empty()) out += "<h3>" + html_escaped(block.text) + "</h3>\n";
    out += "<div class=\"scroll\"><table>\n<thead><tr>";
    for (std::size_t i = 0; i < block.head.size(); ++i) out += cell("th", i, block.head[i]);
    out += "</tr></thead>\n<tbody>\n";
    for (std::size_t row = 0; row < block.rows.size(); ++row) {
        out += "<tr>";
        for (std::size_t i = 0; i < block.rows[row].size(); ++i) out += cell("td", i, block.rows[row][i]);
        out += "</tr>\n";
        if (row < block.details.size() && !block.details[row].empty())
            out += "<tr class=\"detail\"><td colspan=\"" + std::to_string(block.head.size()) +
                   "\"><div class=\"d\">" + html_escaped(block.details[row]) + "</div></td></tr>\n";
    }
    return out + "</tbody></table></div>\n";
}

std::string block_html(Block const& block) {
    switch (block.kind) {
        case Block::Kind::paragraph:
            return "<p>" + html_escaped(block.text) + "</p>\n";
        case Block::Kind::caution:
            return "<p class=\"caution\">" + html_escaped(block.text) + "</p>\n";
        case Block::Kind::list: {
            std::string out = "<ul>\n";
            for (auto const& item : block.items) out += "<li>" + html_escaped(item) + "</li>\n";
            return out + "</ul>\n";
        }
        case Block::Kind::table:
            return table_html(block);
        case Block::Kind::chart:
            return block.wide + block.narrow;
    }
    return "";
}

// On a page the units are signs: "190 \u00b0F". What is a part of a longer word stays as it was written.
std::string with_signs(std::string page) {
    auto const letter = [&](std::size_t at) {
        return at < page.size() &&
               ((page[at] >= 'a' && page[at] <= 'z') || (page[at] >= 'A' && page[at] <= 'Z') ||
                (page[at] >= '0' && page[at] <= '9') || page[at] == '-' || page[at] == '_');
    };
    for (auto at = page.find("deg"); at != std::string::npos; at = page.find("deg", at + 1)) {
        char const unit = at + 3 < page.size() ? page[at + 3] : ' ';
        if ((unit != 'C' && unit != 'F') || letter(at + 4) || (at > 0 && letter(at - 1))) continue;
        page.replace(at, 3, "\u00b0");
    }
    return page;
}

// How large its letters can be, so that it is one sheet of paper when it is printed.
std::string sheet_class(Doc const& doc) {
    if (!doc.one_sheet) return "";
    constexpr std::size_t most_lines = 55;
    std::size_t lines = 0;
    for (auto const& section : doc.sections)
        for (auto const& block : section.blocks)
            lines += 1 + block.rows.size() + block.details.size() + block.items.size();
    return lines > most_lines ? " class=\"sheet small\"" : " class=\"sheet\"";
}

}  // namespace

std::string html_escaped(std::string_view text) {
    std::string out;
    for (char const c : plain_text(text)) {
        switch (c) {
            case '&':
                out += "&amp;";
                break;
            case '<':
                out += "&lt;";
                break;
            case '>':
                out += "&gt;";
                break;
            case '"':
                out += "&quot;";
                break;
            default:
                out += c;
        }
    }
    return out;
}

std::string doc_html(Doc const& doc) {
    std::string out = "<!doctype html>\n<html lang=\"en\"" + sheet_class(doc) +
                      ">\n<head>\n<meta charset=\"utf-8\">\n"
                      "<meta name=\"viewport\" content=\"width=device-width,initial-scale=1\">\n"
                      "<meta name=\"color-scheme\" content=\"light dark\">\n<title>" +
                      html_escaped(doc.title) + "</title>\n<style>" + std::string(style) +
                      "</style>\n</head>\n<body>\n<h1>" + html_escaped(doc.title) +
                      "</h1>\n<p class=\"sub\">" + html_escaped(doc.subtitle) + "</p>\n";
    for (auto const& section : doc.sections) {
        if (section.blocks.empty()) continue;
        if (!section.title.empty()) out += "<h2>" + html_escaped(section.title) + "</h2>\n";
        for (auto const& block : section.blocks) out += block_html(block);
    }
    return with_signs(out + "</body>\n</html>\n");
}

}  // namespace ingle::cli
