// ingle: the command line of the kitchen.
#include <iostream>

#include "daemon/wiring/state_folder.hpp"
#include "tools/cli/output/shown_text.hpp"
#include "tools/cli/past/kitchen_zone.hpp"
#include "tools/cli/program/command.hpp"
#include "tools/cli/time/local_time.hpp"

int main(int argc, char** argv) {
    ingle::cli::ShownText shown(std::cout);
    std::ostream out(&shown);
    ingle::cli::Context context{ingle::default_state_folder(), out, [](ingle::cli::Context const& here) {
                                    ingle::cli::tell_times_in(ingle::cli::kitchen_zone(here));
                                }};
    return ingle::cli::run_program(argc, argv, context);
}
