// ingle: the command line of the kitchen.
#include <cstdlib>
#include <iostream>

#include "tools/cli/command.hpp"

namespace {

std::filesystem::path usual_state() {
    auto const* given = std::getenv("INGLE_STATE");
    if (given && *given) return given;
    auto const* home = std::getenv("HOME");
    return std::filesystem::path(home && *home ? home : "/") / ".local/state/ingle";
}

}  // namespace

int main(int argc, char** argv) {
    ingle::cli::Context context{usual_state(), std::cout};
    return ingle::cli::run_program(argc, argv, context);
}
