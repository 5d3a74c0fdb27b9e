#include "daemon/run/page_token.hpp"

#include "daemon/run/own_secret.hpp"
#include "daemon/web/guard.hpp"

namespace ingle {
namespace {

constexpr std::size_t token_length = 24;  // letters and digits, 5 bits in each: 120 bits

}  // namespace

std::string page_token(ServeSettings const& serve, std::string const& state_folder) {
    if (!serve.token.empty() || !is_loopback(serve.address)) return serve.token;
    return own_secret(state_folder + "/page.token", token_length);
}

}  // namespace ingle
