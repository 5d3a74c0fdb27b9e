// The keys that are explained are those that the loader reads, and each example is one that it takes.
#include <algorithm>
#include <set>

#include "config/keys.hpp"
#include "config/sections.hpp"
#include "tests/support/catch.hpp"

using namespace ingle;

namespace {

using Names = std::set<std::string>;

// Its answer to a key that is like none: "known here: "name", "kind" or ...".
Names read_by_the_loader(std::vector<ConfigError> const& errors) {
    auto const found = std::ranges::find(errors, "unknown key", &ConfigError::wrong);
    REQUIRE(found != errors.end());
    Names names;
    auto const& text = found->right;
    for (std::size_t at = text.find('"'); at != std::string::npos; at = text.find('"', at + 1)) {
        auto const end = text.find('"', at + 1);
        names.insert(text.substr(at + 1, end - at - 1));
        at = end;
    }
    return names;
}

constexpr auto no_such_key = "qqqqqqqqqqqqqqqqqqqqqqqq = 1\n";

std::vector<ConfigError> errors_of(std::string const& section, std::string const& keys) {
    std::vector<ConfigError> errors;
    if (section == "plan") {
        read_plan("name = \"p\"\n" + keys + "[[stage]]\nname = \"s\"\n", "p.toml", errors);
    } else if (section == "stage") {
        read_plan("name = \"p\"\n[[stage]]\n" + keys, "p.toml", errors);
    } else if (section == "until") {
        read_plan("name = \"p\"\n[[stage]]\nname = \"s\"\n[stage.until]\n" + keys, "p.toml", errors);
    } else {
        bool const once = section == "serve" || section == "kitchen";
        auto const head = once ? "[" + section + "]\n" : "[[" + section + "]]\n";
        errors = parse_kitchen((section == "kitchen" ? "" : "[kitchen]\n") + head + keys, "k.toml").errors;
    }
    return errors;
}

std::string all_examples(SectionHelp const& section) {
    std::string text;
    for (auto const& key : section.keys)
        if (!key.example.empty() && !(section.name == "plan" && key.name == "name"))
            text += std::string(key.name) + " = " + std::string(key.example) + "\n";
    return text;
}

// A probe's and a channel's further keys are its driver's and its kind's.
constexpr auto leaves_the_rest = [](std::string_view name) { return name == "probe" || name == "channel"; };

Names explained(SectionHelp const& section) {
    Names names;
    for (auto const& key : section.keys) names.emplace(key.name);
    return names;
}

}  // namespace

TEST_CASE("the keys that are explained are those that the loader reads") {
    for (auto const sections : {kitchen_sections(), plan_sections()})
        for (auto const& section : sections) {
            if (leaves_the_rest(section.name)) continue;
            INFO(section.name);
            auto read = read_by_the_loader(errors_of(std::string(section.name), no_such_key));
            read.erase("token");  // read only to be refused
            CHECK(read == explained(section));
        }
}

TEST_CASE("every example of a key is one that the loader takes") {
    for (auto const sections : {kitchen_sections(), plan_sections()})
        for (auto const& section : sections)
            for (auto const& error : errors_of(std::string(section.name), all_examples(section))) {
                INFO(error.text());
                // What the example names (a vessel, a probe) is not in this file.
                CHECK((error.wrong.starts_with("there is no ") ||
                       error.wrong.find(" is not in this file") != std::string::npos));
            }
}

TEST_CASE("every key of the kitchen that comes with Ingle is explained") {
    // The keys of [[probe]] and [[channel]] before the driver's and the kind's own.
    for (auto const* section : {"probe", "channel"}) {
        auto const found = std::ranges::find(kitchen_sections(), section, &SectionHelp::name);
        REQUIRE(found != kitchen_sections().end());
        auto const loaded =
            parse_kitchen("[kitchen]\n[[" + std::string(section) + "]]\n" + all_examples(*found), "k.toml");
        if (std::string_view(section) == "probe") {
            REQUIRE(loaded.settings.probes.size() == 1);
            CHECK(loaded.settings.probes[0].options.empty());
        } else {
            REQUIRE(loaded.settings.channels.size() == 1);
            CHECK(loaded.settings.channels[0].options.empty());
        }
    }
}
