// Which links of notices were used: each works once, over restarts and reloads. Kept with the durable state.
// io thread.
#pragma once

#include <cstdint>
#include <map>
#include <string>
#include <string_view>

#include "daemon/model/memory.hpp"

namespace ingle {

class UsedLinks {
public:
    bool knows(std::string const& signature) const { return used_.contains(signature); }
    // `until_s`: when it ends to hold, in wall time. What ended long before `now_s` is forgotten.
    void add(std::string const& signature, std::int64_t until_s, std::int64_t now_s) {
        std::erase_if(used_, [&](auto const& one) { return one.second + kept_after_s < now_s; });
        used_[signature] = until_s;
    }
    void remove(std::string const& signature) { used_.erase(signature); }

    void save(Memory& memory) const {
        for (auto const& [signature, until_s] : used_) memory.put(std::string(prefix) + signature, until_s);
    }
    void load(Memory const& memory) {
        for (auto each = memory.first_with(prefix);
             each != memory.all().end() && each->first.starts_with(prefix); ++each)
            if (auto const until_s = memory.integer(each->first))
                used_[each->first.substr(prefix.size())] = *until_s;
    }

private:
    static constexpr std::string_view prefix = "link.used.";
    static constexpr std::int64_t kept_after_s = 7 * 86'400;  // a clock that is put back revives none

    std::map<std::string, std::int64_t> used_;  // by signature
};

}  // namespace ingle
