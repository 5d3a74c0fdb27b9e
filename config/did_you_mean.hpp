// A word that is not among those that are known here: which of them was meant. Pure; any thread.
#pragma once

#include <string>
#include <string_view>
#include <vector>

namespace ingle {

// "; did you mean \"goose-roll\"?", to put after a sentence; "" where none is near. A word that is the
// beginning of one alone stands for it.
std::string did_you_mean(std::string_view word, std::vector<std::string> const& known);

// The names of settings or of other things that have a `name`.
template <class Items>
std::vector<std::string> names_of(Items const& items) {
    std::vector<std::string> names;
    for (auto const& item : items) names.emplace_back(item.name);
    return names;
}

}  // namespace ingle
