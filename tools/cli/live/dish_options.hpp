// What can be said of a dish on the command line, as it is said in the kitchen
// file.
#pragma once

#include <string>
#include <vector>

#include "tools/cli/program/command.hpp"
#include "tools/cli/program/kitchen_text.hpp"

namespace ingle::cli {

struct DishOptions {
    std::string vessel, food, core, plan, shape, thickness, mass, serve_at, kitchen;

    void declare(Verb const& command);
    bool any() const;  // something of the dish is said
    // Throws Failure where the serving time is no time to come. `said`: it, as it is said back.
    std::vector<Change> changes(std::string& said) const;
};

// Writes it to the kitchen file, and says so.
std::string enter_dish(Context const& context, std::string const& name, DishOptions const& options);

}  // namespace ingle::cli
