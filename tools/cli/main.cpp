// ingle: the command line of the kitchen.
#include <iostream>

#include "daemon/wiring/state_folder.hpp"
#include "tools/cli/command.hpp"

int main(int argc, char** argv) {
    ingle::cli::Context context{ingle::default_state_folder(), std::cout};
    return ingle::cli::run_program(argc, argv, context);
}
