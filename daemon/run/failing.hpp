// Several that one alarm is about: it stands until the last of them is well again.
#pragma once

#include <algorithm>
#include <string>
#include <utility>
#include <vector>

namespace ingle {

class Failing {
public:
    // False: it is known already, and only the reason is new.
    bool add(std::string const& name, std::string const& why) {
        auto const found = find(name);
        if (found != all_.end()) return found->second = why, false;
        all_.insert(all_.begin(), {name, why});
        return true;
    }
    bool remove(std::string const& name) {
        return std::erase_if(all_, [&](auto const& one) { return one.first == name; }) > 0;
    }
    template <class Holds>
    void keep_only(Holds const& holds) {
        std::erase_if(all_, [&](auto const& one) { return !holds(one.first); });
    }
    bool empty() const { return all_.empty(); }
    std::vector<std::string> names() const {
        std::vector<std::string> names;
        for (auto const& [name, why] : all_) names.push_back(name);
        return names;
    }
    std::string text() const {  // the newest first
        std::string all;
        for (auto const& [name, why] : all_) all += (all.empty() ? "" : "; ") + why;
        return all;
    }

private:
    std::vector<std::pair<std::string, std::string>>::iterator find(std::string const& name) {
        return std::ranges::find(all_, name, [](auto const& one) { return one.first; });
    }
    std::vector<std::pair<std::string, std::string>> all_;
};

}  // namespace ingle
