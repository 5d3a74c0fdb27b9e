// Every key of a kitchen file and of a plan file, with an example and what it means, for `ingle explain`. A
// test holds the lists against what the loader reads. Pure; any thread.
#pragma once

#include <span>
#include <string_view>

namespace ingle {

struct KeyHelp {
    std::string_view name;
    std::string_view example;  // as it is written in the file
    std::string_view means;    // in a sentence, with what holds where the key is left out
    bool required = false;
};

struct SectionHelp {
    std::string_view name;     // "vessel"
    std::string_view written;  // "[[vessel]]"
    std::string_view means;
    std::span<KeyHelp const> keys;
};

std::span<SectionHelp const> kitchen_sections();
std::span<SectionHelp const> plan_sections();

}  // namespace ingle
