// The plans that come with Ingle: they load, and every number in them says where it is from.
#include <filesystem>
#include <fstream>
#include <set>
#include <sstream>

#include "config/load.hpp"
#include "config/sections.hpp"
#include "tests/support/catch.hpp"

using namespace ingle;

namespace {

std::filesystem::path const folder = TEST_SOURCE "/config/plans";

// Who publishes what the numbers rest on; or a word that says that nobody does.
constexpr std::string_view said_by[] = {"FDA", "USDA", "Extension", "common practice", "from memory"};

std::string text_of(std::filesystem::path const& file) {
    std::ifstream in(file);
    std::stringstream text;
    text << in.rdbuf();
    return text.str();
}

bool has_digit(std::string_view text) {
    return std::ranges::any_of(text, [](char c) { return c >= '0' && c <= '9'; });
}

// The lines whose number has no source beside it.
std::vector<std::string> unsourced(std::string const& text) {
    std::vector<std::string> found;
    std::istringstream lines(text);
    for (std::string line; std::getline(lines, line);) {
        auto const hash = std::min(line.find('#'), line.size());
        if (!has_digit(std::string_view(line).substr(0, hash))) continue;
        auto const comment = std::string_view(line).substr(hash);
        if (std::ranges::none_of(said_by, [&](auto who) { return comment.find(who) != comment.npos; }))
            found.push_back(line);
    }
    return found;
}

PlanSettings plan(std::string const& name) {
    std::vector<ConfigError> errors;
    auto const file = folder / (name + ".toml");
    auto made = read_plan(text_of(file), file.string(), errors);
    for (auto const& error : errors) FAIL_CHECK(error.key << " " << error.wrong);
    return made;
}

double hours(std::optional<Duration> const& time) {
    return time ? time->seconds / 3600 : -1;
}

}  // namespace

TEST_CASE("every number of a plan has its source beside it, or says that it is common practice") {
    int files = 0;
    for (auto const& file : std::filesystem::directory_iterator(folder)) {
        ++files;
        INFO(file.path().filename().string());
        for (auto const& line : unsourced(text_of(file.path()))) FAIL_CHECK(line);
        auto const name = file.path().stem().string();
        auto const made = plan(name);
        CHECK(made.name == name);
        for (auto const& stage : made.stages) CHECK(stage.does.has_value());
    }
    CHECK(files == 21);
    // The check can fail.
    CHECK(unsourced("at-most = \"4 h\"\n").size() == 1);
    CHECK(unsourced("at-most = \"4 h\"  # long enough\n").size() == 1);
    CHECK(unsourced("name = \"hold\"\n# 4 h\n").empty());
}

TEST_CASE("chilling and reheating go by the Food Code") {
    auto const chill = plan("chill");
    REQUIRE(chill.stages.size() == 3);
    // 3-501.14(A): 135 to 70 degF within 2 h, to 41 degF within 6 h in all; it goes on to the 40 degF (USDA)
    // of the stage that keeps it.
    CHECK_THAT(chill.stages[0].until.core->celsius, WithinAbs(21.1, 0.05));
    CHECK(hours(chill.stages[0].at_most) == 2);
    CHECK_THAT(chill.stages[1].until.core->celsius, WithinAbs(40.0 / 9, 1e-9));
    CHECK(hours(chill.stages[0].at_most) + hours(chill.stages[1].at_most) == 6);
    for (int i : {0, 1}) CHECK(chill.stages[static_cast<std::size_t>(i)].does == Does::chill);
    // 3-403.11(A) and (D): 165 degF, within 2 h.
    auto const reheat = plan("reheat");
    CHECK(reheat.stages[0].does == Does::reheat);
    CHECK_THAT(reheat.stages[0].until.core->celsius, WithinAbs(73.9, 0.05));
    CHECK(hours(reheat.stages[0].at_most) == 2);
}

TEST_CASE("poultry is brined for two days at most, and a dough is no stock") {
    // USDA Meat and Poultry Hotline: overnight, up to two days.
    CHECK(hours(plan("brine").stages[0].at_most) == 48);
    CHECK(hours(plan("brine-fish").stages[0].at_most) == 24);
    for (auto const& stage : plan("dough").stages) CHECK(stage.does != Does::chill);
}
