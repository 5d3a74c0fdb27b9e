// Kitchen and plan files: text in, settings or every mistake out. No I/O but reading the named files.
#pragma once

#include <cstddef>
#include <filesystem>
#include <map>
#include <string>
#include <string_view>
#include <vector>

#include "config/settings.hpp"

namespace ingle {

struct ConfigError {
    Where where;
    std::string key;           // "probe.stock.plausible"
    std::string wrong;         // what is wrong
    std::string right;         // what would be right
    std::string text() const;  // "file:line:column: key: wrong, right"
};

// All that a kitchen was read from, so that it can be read again without the files.
struct KitchenTexts {
    struct Plan {
        std::string file, text;
        bool operator==(Plan const&) const = default;
    };
    std::string file, text;
    std::map<std::string, Plan> plans;  // by what dishes call them
    bool operator==(KitchenTexts const&) const = default;
};

struct Loaded {
    Settings settings;
    std::vector<ConfigError> errors;    // all of them; settings are usable only if empty
    std::vector<ConfigError> warnings;  // loadable, but worth a look (a bare ttyUSB number)
    KitchenTexts texts = {};            // as far as it was read from files
};

// Bytes, of a plan too; a kitchen of 1,000 probes is a tenth of that.
inline constexpr std::size_t longest_kitchen_file = std::size_t{1} << 20;

// In the order of the files, `first_file` first; what is said twice is said once.
void sort_by_place(std::vector<ConfigError>& errors, std::string const& first_file);

// Reads a kitchen file and the plans that it names (looked up beside it, then in `plan_folders`).
Loaded load_kitchen(std::filesystem::path const& file,
                    std::vector<std::filesystem::path> const& plan_folders = {});
// The same without the disk. Paths are still seen from where the files were.
Loaded load_kitchen(KitchenTexts const& texts);
// One plan file's text; `file` is only named in errors. Vessels are left as names.
PlanSettings read_plan(std::string_view text, std::string const& file, std::vector<ConfigError>& errors);
// The same from text that is already in memory; `file` is only named in errors, plans are not read from disk.
Loaded parse_kitchen(std::string_view text, std::string const& file, std::vector<PlanSettings> plans = {});

}  // namespace ingle
