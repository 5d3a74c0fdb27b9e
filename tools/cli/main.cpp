// ingle: the command line of the kitchen.
#include <iostream>

#include "tools/cli/output/shown_text.hpp"
#include "tools/cli/past/kitchen_zone.hpp"
#include "tools/cli/program/command.hpp"
#include "tools/cli/program/state_to_ask.hpp"
#include "tools/cli/time/local_time.hpp"

int main(int argc, char** argv) {
    ingle::cli::ShownText shown(std::cout);
    std::ostream out(&shown);
    ingle::cli::Context context{
        ingle::cli::state_to_ask(ingle::cli::service_state), out,
        [](ingle::cli::Context const& here) { ingle::cli::tell_times_in(ingle::cli::kitchen_zone(here)); }};
    return ingle::cli::run_program(argc, argv, context);
}
