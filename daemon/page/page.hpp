// The files of the page for the browser, embedded by the build (embed.cmake): the document at /, one style
// sheet, its modules joined into one; what an installed page needs; and the description of the API. Constant
// data; any thread.
#pragma once

#include <span>
#include <string_view>

namespace ingle {

struct PageFile {
    std::string_view path;  // "/", "/page.css", ...
    std::string_view type;  // media type with its character set
    std::string_view text;
    std::string_view gzip;  // the same, as of RFC 1952
    std::string_view etag;  // a strong validator (RFC 9110, 8.8.3), with its quotation marks
};

std::span<PageFile const> page_files();
PageFile const* page_file(std::string_view path);  // nullptr: the page has no such file

}  // namespace ingle
