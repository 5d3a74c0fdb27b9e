#include "daemon/run/serving.hpp"

#include <spdlog/spdlog.h>

#include "daemon/run/page_token.hpp"
#include "daemon/run/read_only_disk.hpp"

namespace ingle {

ServerSettings serving(Settings const& kitchen, std::string const& state_folder) {
    ServerSettings serve;
    if (!on_read_only_disk(state_folder)) serve.socket = state_folder + "/ingled.sock";
    serve.log = [](std::string const& line) { spdlog::warn("{}", line); };
    if (auto const& tcp = kitchen.serve; tcp.tcp)
        serve.tcp = ServerSettings::Tcp{tcp.address, tcp.port, page_token(tcp, state_folder)};
    return serve;
}

}  // namespace ingle
