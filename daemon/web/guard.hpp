// Who may do what: the Unix socket everything, TCP reading only unless the token is shown, nothing at all to
// a page of another site (DNS rebinding). Pure; any thread.
#pragma once

#include <string>
#include <string_view>

namespace ingle {

struct Caller {
    bool tcp = false;
    bool off_loopback = false;  // the server listens beyond this machine
    std::string bound_address;  // as configured
    std::string_view host, origin, fetch_site, authorization, cookie;  // headers; "" = not sent
};

struct Refusal {
    int status = 0;  // 0: go on
    std::string text;
};

bool is_loopback(std::string_view address);
// "Authorization: Bearer X" or the cookie ingle-token=X. Takes as long for a near miss as for a far one.
bool shows_token(Caller const& caller, std::string_view token);
bool shows_wrong_token(Caller const& caller, std::string_view token);
Refusal guard(Caller const& caller, bool changes_something, std::string_view token);

}  // namespace ingle
