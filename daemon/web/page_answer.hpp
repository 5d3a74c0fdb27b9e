// A file of the page as an answer, packed where the browser takes it so. Pure; any thread.
#pragma once

#include <string_view>

#include "daemon/web/routes.hpp"

namespace ingle {

// 304 where the browser has it; 404: the page has no such file.
Response page_answer(std::string_view path, Request const& request);

// Does an Accept-Encoding header (RFC 9110, 12.5.3) take gzip? Only where it names it.
bool takes_gzip(std::string_view accept_encoding);

}  // namespace ingle
