// A notice as the text of a mail (RFC 5322), with CRLF line ends. Pure.
#pragma once

#include <chrono>
#include <string>
#include <vector>

#include "daemon/notices/notice.hpp"

namespace ingle::email {

// Line breaks in a header value are taken out; what is not ASCII in the subject is encoded (RFC 2047).
std::string message(Notice const& notice, std::string const& from, std::vector<std::string> const& to,
                    std::chrono::system_clock::time_point now);

}  // namespace ingle::email
