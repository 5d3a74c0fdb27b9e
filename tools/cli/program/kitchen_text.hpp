// The text of a kitchen file, written by questions and answers instead of by
// hand, and a dish in it changed without touching the rest. Pure.
#pragma once

#include <string>
#include <string_view>
#include <utility>
#include <vector>

namespace ingle::cli {

std::string toml_string(std::string_view text);  // as a string of TOML

// A key and its value as TOML; an empty value takes the key out.
using Change = std::pair<std::string, std::string>;

bool has_dish(std::string_view kitchen, std::string_view name);
// The file with these keys of its [[dish]] of this name, which is added at the
// end where there is none.
std::string with_dish(std::string_view kitchen, std::string_view name, std::vector<Change> const& changes);
std::string without_dish(std::string_view kitchen, std::string_view name);

struct NewProbe {
    std::string name;
    std::vector<std::string> lines;  // of its table, driver first; as TOML
};
struct NewVessel {
    std::string name, kind;
    NewProbe medium;
};
struct NewKitchen {
    std::string name, units, altitude,
        phone;  // phone: the address of a webhook, or ""
    std::vector<NewVessel> vessels;
    std::vector<std::string> found;  // lines for what is wired and in no vessel yet
};
std::string first_kitchen(NewKitchen const& kitchen);

}  // namespace ingle::cli
