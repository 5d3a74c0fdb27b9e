#include "tools/cli/program/kitchen_text.hpp"

#include <algorithm>

namespace ingle::cli {
namespace {

std::vector<std::string> lines_of(std::string_view text) {
    std::vector<std::string> lines;
    while (!text.empty()) {
        auto const end = std::min(text.find('\n'), text.size());
        lines.emplace_back(text.substr(0, end));
        text.remove_prefix(std::min(end + 1, text.size()));
    }
    return lines;
}

std::string joined(std::vector<std::string> const& lines) {
    std::string text;
    for (auto const& line : lines) text += line + "\n";
    return text;
}

std::string_view trimmed(std::string_view line) {
    auto const first = line.find_first_not_of(" \t");
    return first == std::string_view::npos ? std::string_view() : line.substr(first);
}

// The key that a line sets, or "".
std::string_view key_of(std::string_view line) {
    line = trimmed(line);
    auto const end = line.find_first_of(" \t=");
    if (end == std::string_view::npos || trimmed(line.substr(end)).substr(0, 1) != "=") return {};
    return line.substr(0, end);
}

bool is_header(std::string_view line) {
    return trimmed(line).starts_with('[');
}

struct Lines {
    std::size_t from = 0,
                to = 0;  // from the header on; to: behind the last line that is not blank
};

// Of the [[dish]] of this name; from == to: there is none.
Lines dish_lines(std::vector<std::string> const& lines, std::string_view name) {
    auto const wanted = toml_string(name);
    for (std::size_t i = 0; i < lines.size(); ++i) {
        if (!trimmed(lines[i]).starts_with("[[dish]]")) continue;
        std::size_t end = i + 1;
        bool named = false;
        for (; end < lines.size() && !is_header(lines[end]); ++end)
            named = named || (key_of(lines[end]) == "name" && lines[end].find(wanted) != std::string::npos);
        // Comments and blank lines before the next header are the next one's.
        while (end > i + 1 && (trimmed(lines[end - 1]).empty() || trimmed(lines[end - 1]).starts_with('#')))
            --end;
        if (named) return {i, end};
    }
    return {};
}

}  // namespace

std::string toml_string(std::string_view text) {
    std::string out = "\"";
    for (char const c : text) {
        if (c == '"' || c == '\\') out += '\\';
        out += c;
    }
    return out + '"';
}

bool has_dish(std::string_view kitchen, std::string_view name) {
    auto const found = dish_lines(lines_of(kitchen), name);
    return found.from != found.to;
}

std::string with_dish(std::string_view kitchen, std::string_view name, std::vector<Change> const& changes) {
    auto lines = lines_of(kitchen);
    auto found = dish_lines(lines, name);
    if (found.from == found.to) {
        if (!lines.empty() && !lines.back().empty()) lines.emplace_back();
        found.from = lines.size();
        lines.emplace_back("[[dish]]");
        lines.push_back("name = " + toml_string(name));
        found.to = lines.size();
    }
    for (auto const& [key, value] : changes) {
        std::size_t at = found.from + 1;
        while (at < found.to && key_of(lines[at]) != key) ++at;
        auto const place = lines.begin() + static_cast<std::ptrdiff_t>(at);
        if (value.empty()) {
            if (at < found.to) lines.erase(place), --found.to;
        } else if (at < found.to) {
            *place = key + " = " + value;
        } else {
            lines.insert(place, key + " = " + value);
            ++found.to;
        }
    }
    return joined(lines);
}

std::string without_dish(std::string_view kitchen, std::string_view name) {
    auto lines = lines_of(kitchen);
    auto const found = dish_lines(lines, name);
    if (found.from == found.to) return joined(lines);
    auto const begin = lines.begin();
    lines.erase(begin + static_cast<std::ptrdiff_t>(found.from),
                begin + static_cast<std::ptrdiff_t>(found.to));
    return joined(lines);
}

std::string first_kitchen(NewKitchen const& kitchen) {
    std::string text =
        "# Written by `ingle init`. Change it as you like; `ingle check` says what is wrong with it.\n\n"
        "[kitchen]\nname = " +
        toml_string(kitchen.name) + "\nunits = " + toml_string(kitchen.units) +
        "\naltitude = " + toml_string(kitchen.altitude) + "\n";
    for (auto const& vessel : kitchen.vessels) {
        text += "\n[[probe]]\nname = " + toml_string(vessel.medium.name) + "\n";
        for (auto const& line : vessel.medium.lines) text += line + "\n";
    }
    for (auto const& vessel : kitchen.vessels)
        text += "\n[[vessel]]\nname = " + toml_string(vessel.name) + "\nkind = " + toml_string(vessel.kind) +
                "\nmedium = " + toml_string(vessel.medium.name) + "\n";
    if (kitchen.phone.empty())
        text +=
            "\n# A phone, once there is something at this address that takes a POST:\n# [[channel]]\n"
            "# name = \"phone\"\n# kind = \"webhook\"\n# url = \"http://127.0.0.1:8093/notice\"\n";
    else
        text +=
            "\n[[channel]]\nname = \"phone\"\nkind = \"webhook\"\nurl = " + toml_string(kitchen.phone) + "\n";
    if (!kitchen.found.empty()) text += "\n# Found on this machine, and in no vessel yet:\n";
    for (auto const& line : kitchen.found) text += "# " + line + "\n";
    return text;
}

}  // namespace ingle::cli
