// What a driver may be told, declared as data, and the values it was given. Pure; any thread.
#pragma once

#include <cstdint>
#include <map>
#include <span>
#include <string>
#include <string_view>
#include <variant>
#include <vector>

namespace ingle {

enum class OptionKind { text, integer, number, boolean, integers };  // integers: a list of whole numbers

struct OptionInfo {
    std::string_view name;
    OptionKind kind = OptionKind::text;
    bool required = false;
    std::string_view otherwise;                   // the default, as text; "" = none
    std::span<std::string_view const> allowed{};  // for text: the words that are understood; empty = any
    double least = 0, most = 0;                   // for numbers; least == most = any
    std::string_view help;                        // one line, with the unit
};

using OptionValue = std::variant<std::string, std::int64_t, double, bool, std::vector<std::int64_t>>;

class Options {
public:
    void set(std::string name, OptionValue value) { values_[std::move(name)] = std::move(value); }
    bool has(std::string_view name) const { return values_.find(name) != values_.end(); }
    // Each returns `otherwise` where the key was not given; the kinds were checked by `problems` before.
    // A whole number given for a text (channel = 1) is its digits.
    std::string text(std::string_view name, std::string_view otherwise = "") const;
    std::int64_t integer(std::string_view name, std::int64_t otherwise = 0) const;
    double number(std::string_view name, double otherwise = 0) const;
    bool flag(std::string_view name, bool otherwise = false) const;
    std::vector<std::int64_t> integers(std::string_view name) const;
    std::map<std::string, OptionValue, std::less<>> const& all() const { return values_; }

private:
    std::map<std::string, OptionValue, std::less<>> values_;
};

struct OptionProblem {
    std::string key;    // the offending key, or the missing one
    std::string wrong;  // "unknown key", "is missing", "must be one of ..."
    std::string right;  // what would be right
};

// Everything that is wrong with `given`, not only the first thing: unknown keys (with the nearest known one),
// missing required keys, wrong kinds, words and ranges that are not allowed.
std::vector<OptionProblem> problems(std::span<OptionInfo const> known, Options const& given);

}  // namespace ingle
