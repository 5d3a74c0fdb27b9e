#include "daemon/web/target.hpp"

#include <algorithm>

namespace ingle {
namespace {

int hex(char c) {
    if (c >= '0' && c <= '9') return c - '0';
    if (c >= 'a' && c <= 'f') return c - 'a' + 10;
    if (c >= 'A' && c <= 'F') return c - 'A' + 10;
    return -1;
}

std::optional<std::string> unescape(std::string_view text, bool plus_is_space) {
    std::string out;
    for (std::size_t i = 0; i < text.size(); ++i) {
        if (text[i] == '%') {
            if (i + 2 >= text.size()) return {};
            int const high = hex(text[i + 1]), low = hex(text[i + 2]);
            if (high < 0 || low < 0) return {};
            out += static_cast<char>(high * 16 + low);
            i += 2;
        } else {
            out += plus_is_space && text[i] == '+' ? ' ' : text[i];
        }
    }
    return out;
}

}  // namespace

std::optional<std::string> Target::get(std::string_view name) const {
    auto const found = std::ranges::find(parameters, name, &std::pair<std::string, std::string>::first);
    if (found == parameters.end()) return {};
    return found->second;
}

std::vector<std::string> Target::all(std::string_view name) const {
    std::vector<std::string> values;
    for (auto const& [key, value] : parameters) {
        if (key != name) continue;
        for (std::size_t from = 0; from <= value.size();) {
            auto const comma = std::min(value.find(',', from), value.size());
            if (comma > from) values.push_back(value.substr(from, comma - from));
            from = comma + 1;
        }
    }
    return values;
}

std::string Target::unknown(std::vector<std::string_view> const& known) const {
    for (auto const& parameter : parameters) {
        if (std::ranges::find(known, parameter.first) != known.end()) continue;
        std::string text = "there is no parameter \"" + parameter.first + "\" here; known: ";
        for (auto const name : known) text.append(name == known.front() ? "" : ", ").append(name);
        return known.empty() ? path + " takes no parameters" : text;
    }
    return {};
}

std::optional<Target> parse_target(std::string_view text) {
    Target target;
    auto const mark = std::min(text.find('?'), text.size());
    auto path = unescape(text.substr(0, mark), false);
    if (!path || path->empty() || path->front() != '/') return {};
    target.path = std::move(*path);
    text.remove_prefix(std::min(mark + 1, text.size()));
    while (!text.empty()) {
        auto const end = std::min(text.find('&'), text.size());
        auto const pair = text.substr(0, end);
        auto const equals = std::min(pair.find('='), pair.size());
        auto name = unescape(pair.substr(0, equals), true);
        auto value = unescape(pair.substr(std::min(equals + 1, pair.size())), true);
        if (!name || !value) return {};
        if (!name->empty()) target.parameters.emplace_back(std::move(*name), std::move(*value));
        text.remove_prefix(std::min(end + 1, text.size()));
    }
    return target;
}

}  // namespace ingle
