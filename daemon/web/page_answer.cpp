#include "daemon/web/page_answer.hpp"

#include <algorithm>
#include <cctype>

#include "daemon/page/page.hpp"

namespace ingle {
namespace {

// Of the page: nothing but its own files and this server, no code and no style inside the document.
constexpr char page_policy[] =
    "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' data:; connect-src 'self'; "
    "manifest-src 'self'; base-uri 'none'; form-action 'none'; frame-ancestors 'none'";

// Without blanks, in lower case.
std::string plain(std::string_view text) {
    std::string out;
    for (char const c : text)
        if (c != ' ' && c != '\t') out += static_cast<char>(std::tolower(static_cast<unsigned char>(c)));
    return out;
}

// "q=0", "q=0.000": it is not taken.
bool is_none(std::string_view weight) {
    return weight.starts_with("q=0") && weight.find_first_not_of("0.", 2) == std::string_view::npos;
}

}  // namespace

bool takes_gzip(std::string_view accept_encoding) {
    auto const list = plain(accept_encoding);
    for (std::size_t from = 0; from < list.size();) {
        auto const end = std::min(list.find(',', from), list.size());
        auto const item = std::string_view(list).substr(from, end - from);
        auto const name = item.substr(0, item.find(';'));
        if (name == "gzip") return name.size() == item.size() || !is_none(item.substr(name.size() + 1));
        from = end + 1;
    }
    return false;
}

Response page_answer(std::string_view path, Request const& request) {
    auto const* file = page_file(path);
    if (!file) return plain_error(404, "the page has no such file");
    bool const packed = takes_gzip(request.accept_encoding) && file->gzip.size() < file->text.size();
    // Each form has its own validator (RFC 9110, 8.8.3.3).
    auto etag = std::string(file->etag);
    if (packed) etag.insert(etag.size() - 1, "-gz");
    bool const known = request.if_none_match.find(etag) != std::string::npos;
    Response response{known ? 304 : 200,
                      std::string(file->type),
                      known ? "" : std::string(packed ? file->gzip : file->text),
                      {{"ETag", std::move(etag)},
                       {"Vary", "Accept-Encoding"},
                       {"Cache-Control", "no-cache"},
                       {"Content-Security-Policy", page_policy},
                       {"Referrer-Policy", "no-referrer"}}};
    if (packed && !known) response.headers.emplace_back("Content-Encoding", "gzip");
    return response;
}

}  // namespace ingle
