#include "daemon/run/missing_parts.hpp"

#include <algorithm>
#include <vector>

namespace ingle {
namespace {

void add_missing(std::vector<std::string>& out, std::string const& kind, auto const& before,
                 auto const& now) {
    if (now.size() >= before.size()) return;
    for (auto const& item : before)
        if (std::ranges::none_of(now, [&](auto const& other) { return other.name == item.name; }))
            out.push_back(kind + " " + item.name);
}

}  // namespace

std::string missing_parts(Settings const& before, Settings const& now) {
    std::vector<std::string> missing;
    add_missing(missing, "probe", before.probes, now.probes);
    add_missing(missing, "vessel", before.vessels, now.vessels);
    add_missing(missing, "channel", before.channels, now.channels);
    if (before.serve.tcp && !now.serve.tcp) missing.push_back("page");
    if (missing.empty()) return {};
    std::string text = "There is no " + missing.front();
    for (std::size_t i = 1; i < missing.size(); ++i)
        text += (i + 1 == missing.size() ? " and no " : ", no ") + missing[i];
    return text + " any more. Is the kitchen file whole, and is there what it names?";
}

}  // namespace ingle
