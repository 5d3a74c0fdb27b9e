// Guests, who look until a time and change nothing: their links and passes. io_context thread.
#pragma once

#include <optional>
#include <string>
#include <string_view>

#include "daemon/web/routes.hpp"

namespace ingle {

// Until when this caller may look as a guest, from the pass that it shows; empty: it is none, or its time is
// over, or the time is not known, or the caller shows the token.
std::optional<WallMs> guest_until(Caller const& caller, WebHost& host, std::string const& token);
// The body: {for: "8 h"}, up to a month. Gives the address of the link, which is shown here and never again.
Response make_guest_link(std::string_view body, WebHost& host, std::string const& token);
// What a guest's link does when it is opened: the pass becomes a cookie, and the page follows.
Response open_guest_link(std::string_view pass, WebHost& host, std::string const& token);

}  // namespace ingle
