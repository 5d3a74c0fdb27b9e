// A kitchen or plan file with its secrets left out, and texts without what was found to be one. Pure.
#pragma once

#include <string>
#include <string_view>
#include <vector>

namespace ingle::cli {

struct Masked {
    std::string text;
    std::vector<std::string> secrets;  // what was left out, for other texts that may hold it
};
// Only values of keys that are known to hold no secret stay; comments go. `sound`: it could be read as TOML;
// of a file that could not, no value stays, as it may end anywhere.
Masked masked_settings(std::string_view toml, bool sound);

// Without these secrets, without mail addresses, and of every URL only its scheme and host.
std::string masked_words(std::string text, std::vector<std::string> secrets);

}  // namespace ingle::cli
