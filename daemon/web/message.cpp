#include "daemon/web/message.hpp"

namespace ingle {

namespace http = boost::beast::http;

Response improper(http::request<http::string_body> const& message) {
    for (auto const field : {http::field::host, http::field::authorization, http::field::origin,
                             http::field::content_type, http::field::transfer_encoding})
        if (message.count(field) > 1) {
            auto const name = http::to_string(field);
            return plain_error(400, "the header " + std::string(name.data(), name.size()) + " stands twice");
        }
    auto const coding = message[http::field::transfer_encoding];
    if (!coding.empty() && !boost::beast::iequals(coding, "chunked"))
        return plain_error(501, "the only transfer coding that is understood is \"chunked\"");
    return {};
}

Response complaint(boost::system::error_code error) {
    if (error == http::error::body_limit) return plain_error(413, "the body is longer than 64 KiB");
    if (error == http::error::header_limit) return plain_error(431, "the headers are longer than 8 KiB");
    if (error == http::error::end_of_stream || error == http::error::partial_message ||
        error.category() != make_error_code(http::error::bad_method).category()) {
        return {};
    }
    return plain_error(400, "that is not an HTTP request: " + error.message());
}

}  // namespace ingle
