// What a driver may be told, declared as data, and the values it was given. Pure; any thread.
#pragma once

#include <cstdint>
#include <map>
#include <span>
#include <stdexcept>
#include <string>
#include <string_view>
#include <utility>
#include <variant>
#include <vector>

namespace ingle {

// integers: a list of whole numbers. Those from `file` on are texts that name what this machine has: a file,
// one that holds certificates (PEM, RFC 7468) or a secret, an environment variable that holds a secret, a
// device that may be unplugged.
enum class OptionKind {
    text,
    integer,
    number,
    boolean,
    integers,
    file,
    certificate_file,
    secret_file,
    variable,
    device
};
constexpr bool is_text(OptionKind kind) {
    return kind == OptionKind::text || kind >= OptionKind::file;
}
constexpr bool names_a_file(OptionKind kind) {
    return kind >= OptionKind::file && kind <= OptionKind::secret_file;
}

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

// What a driver or a channel throws when it is made of options that can never work.
class WrongOption : public std::runtime_error {
public:
    // `probe`: its number where it is not the first of a group, or -1.
    WrongOption(std::string which, std::string const& wrong, std::string better, int number = -1)
        : std::runtime_error(wrong), key(std::move(which)), right(std::move(better)), probe(number) {}
    std::string key, right;
    int probe;
};

// Everything that is wrong with `given`, not only the first thing: unknown keys (with the nearest known one),
// missing required keys, wrong kinds, words and ranges that are not allowed.
std::vector<OptionProblem> problems(std::span<OptionInfo const> known, Options const& given);

}  // namespace ingle
