// The target of a request taken apart. Pure; any thread.
#pragma once

#include <optional>
#include <string>
#include <string_view>
#include <utility>
#include <vector>

namespace ingle {

struct Target {
    std::string path;
    std::vector<std::pair<std::string, std::string>> parameters;  // decoded, in order

    std::optional<std::string> get(std::string_view name) const;  // the first of that name
    std::vector<std::string> all(std::string_view name) const;    // "a,b" counts as two
    // A sentence that names the first parameter that is not in `known`; "" = all are.
    std::string unknown(std::vector<std::string_view> const& known) const;
};

// "/api/history?probe=stock&last=3%20h"; empty where the escapes are wrong.
std::optional<Target> parse_target(std::string_view text);

}  // namespace ingle
