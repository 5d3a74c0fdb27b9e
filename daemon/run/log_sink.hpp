// Where log lines go: the standard error stream, without ever waiting for whoever reads it. A line that it
// does not take is left out and counted. Any thread.
#pragma once

#include <memory>

namespace spdlog {
class logger;
}

namespace ingle {

// One line at most so long that a pipe which has room takes it whole.
std::shared_ptr<spdlog::logger> make_log(int descriptor);

}  // namespace ingle
