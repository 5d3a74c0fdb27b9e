#include "daemon/web/link_page.hpp"

#include <algorithm>
#include <string_view>

#include "daemon/model/markup.hpp"

namespace ingle {
namespace {

// No script at all, and only its own button.
constexpr char link_policy[] =
    "default-src 'none'; style-src 'self'; img-src data:; base-uri 'none'; form-action 'self'; "
    "frame-ancestors 'none'";

std::string document(std::string const& kitchen, std::string const& title, std::string const& inside) {
    return "<!doctype html>\n<html lang=\"en\"><head><meta charset=\"utf-8\">\n"
           "<meta name=\"viewport\" content=\"width=device-width, initial-scale=1\">\n"
           "<meta name=\"color-scheme\" content=\"light dark\">\n<link rel=\"icon\" href=\"data:,\">\n"
           "<link rel=\"stylesheet\" href=\"/page.css\">\n<title>" +
           title + "</title></head>\n<body><header><h1>" + escaped(kitchen) +
           "</h1></header>\n<main class=\"asked\">\n<h2>" + title + "</h2>\n" + inside +
           "<p><a href=\"/\">The page of this kitchen</a></p>\n</main></body></html>\n";
}

std::string paragraphs(std::string_view text) {
    std::string out;
    while (!text.empty()) {
        auto const end = std::min(text.find('\n'), text.size());
        out += "<p>" + escaped(text.substr(0, end)) + "</p>\n";
        text.remove_prefix(std::min(end + 1, text.size()));
    }
    return out;
}

std::string question(NoticeLink const& link) {
    std::string inside;
    for (auto const& alarm : link.alarms) inside += "<article>" + paragraphs(alarm) + "</article>\n";
    return inside + "<form method=\"post\"><button class=\"first\">" +
           (link.shelves ? "Shelve for 30 min" : "Acknowledge") + "</button></form>\n";
}

}  // namespace

Response link_page(std::string const& kitchen, NoticeLink const& link, bool used) {
    bool const asks = link.status == 200 && !used;
    auto const* title = link.status != 200 ? "Nothing was done"
                        : used             ? "Done"
                        : link.shelves     ? "Shelve this?"
                                           : "Acknowledge this?";
    return {link.status,
            "text/html; charset=utf-8",
            document(kitchen, title, asks ? question(link) : paragraphs(link.text)),
            {{"Content-Security-Policy", link_policy}, {"Referrer-Policy", "no-referrer"}}};
}

}  // namespace ingle
