// What every HTTP message of this server has, and what is wrong with one that came. Only for daemon/web.
#pragma once

#include <boost/beast/core.hpp>
#include <boost/beast/http.hpp>
#include <string>

#include "daemon/web/routes.hpp"

namespace ingle {

// 200: nothing. What may be read in two ways is not read: RFC 9112, 3.2 (Host) and 6.1 (codings), RFC
// 9110, 5.3.
Response improper(boost::beast::http::request<boost::beast::http::string_body> const& message);
// Of what could not be read as a request. 200: there is nobody to complain to.
Response complaint(boost::system::error_code error);

template <class Message>
void common_headers(Message& message, std::string const& type) {
    message.set(boost::beast::http::field::content_type, type);
    message.set(boost::beast::http::field::cache_control, "no-store");
    message.set("X-Content-Type-Options", "nosniff");
    message.set("Cross-Origin-Resource-Policy", "same-origin");
}

}  // namespace ingle
