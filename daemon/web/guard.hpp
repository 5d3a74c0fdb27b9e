// Who may do what: the Unix socket everything, TCP reading only unless the token is shown, nothing at all to
// a page of another site (DNS rebinding). Pure; any thread.
#pragma once

#include <optional>
#include <string>
#include <string_view>

namespace ingle {

struct Caller {
    bool tcp = false;
    bool off_loopback = false;  // the server listens beyond this machine
    std::string bound_address;  // as configured
    std::string_view host, origin, fetch_site, authorization, cookie;  // headers; "" = not sent
    bool guest = false;  // it shows a guest's pass that is good now
};

struct Refusal {
    int status = 0;  // 0: go on
    std::string text;
};

bool is_loopback(std::string_view address);
// "Authorization: Bearer X" or the cookie ingle-token=X. Takes as long for a near miss as for a far one.
bool shows_token(Caller const& caller, std::string_view token);
bool shows_wrong_token(Caller const& caller, std::string_view token);
// The header that keeps the token for the page, for a month; "" forgets what is kept.
std::string token_cookie(std::string_view token);
// A page that is used stays signed in; a kept token that is no longer the kitchen's is forgotten, since it
// would be shown, and slowed down, each time. Empty: nothing is kept.
std::optional<std::string> cookie_anew(Caller const& caller, std::string_view token);
// What a guest's cookie, ingle-guest, holds; "" = not sent.
std::string_view guest_pass_of(Caller const& caller);
Refusal guard(Caller const& caller, bool changes_something, std::string_view token);

}  // namespace ingle
