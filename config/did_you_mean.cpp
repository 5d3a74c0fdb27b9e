#include "config/did_you_mean.hpp"

#include <algorithm>

#include "config/reader.hpp"

namespace ingle {

std::string did_you_mean(std::string_view word, std::vector<std::string> const& known) {
    constexpr std::size_t shortest_beginning = 3;
    std::vector<std::string_view> const words(known.begin(), known.end());
    auto meant = nearest(word, words);
    if (!meant && word.size() >= shortest_beginning) {
        auto const begins = [&](std::string_view one) { return one.starts_with(word); };
        auto const first = std::ranges::find_if(words, begins);
        if (first != words.end() && std::count_if(words.begin(), words.end(), begins) == 1) meant = *first;
    }
    return meant ? "; did you mean \"" + std::string(*meant) + "\"?" : "";
}

}  // namespace ingle
