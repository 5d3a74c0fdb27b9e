#include "drivers/serial_line/decode.hpp"

#include <algorithm>
#include <charconv>
#include <nlohmann/json.hpp>
#include <utility>

namespace ingle {
namespace {

bool is_letter(char c) {
    return (c >= 'a' && c <= 'z') || (c >= 'A' && c <= 'Z') || c == '_';
}
bool is_label_char(char c) {
    return is_letter(c) || (c >= '0' && c <= '9') || c == '-' || c == '.';
}
bool is_label(std::string_view text) {
    return !text.empty() && is_letter(text[0]) && std::ranges::all_of(text, is_label_char);
}
bool is_number(TextValue const& value) {
    return std::holds_alternative<TextNumber>(value);
}

// Text is printable ASCII and tabs; beyond that only the degree sign, as UTF-8 or Latin-1.
bool is_text(std::string_view line) {
    for (std::size_t i = 0; i < line.size(); ++i) {
        auto const byte = static_cast<unsigned char>(line[i]);
        if (byte == '\t' || (byte >= 0x20 && byte < 0x7F)) continue;
        if (byte == 0xC2 && i + 1 < line.size() && (line[i + 1] == '\xB0' || line[i + 1] == '\xBA')) {
            ++i;
            continue;
        }
        bool const after_digit_or_blank =
            i > 0 && (line[i - 1] == ' ' || (line[i - 1] >= '0' && line[i - 1] <= '9'));
        if ((byte == 0xB0 || byte == 0xBA) && after_digit_or_blank) continue;
        return false;
    }
    return true;
}

std::vector<std::string_view> split(std::string_view text, std::string_view separators) {
    std::vector<std::string_view> fields;
    for (;;) {
        auto const at = text.find_first_of(separators);
        fields.push_back(trim(text.substr(0, at)));
        if (at == std::string_view::npos) return fields;
        text.remove_prefix(at + 1);
    }
}

Line values(std::vector<LineItem> items) {
    if (items.empty()) return {LineSays::banner, {}};
    return {LineSays::values, std::move(items)};
}

LineItem item(std::string_view label, std::size_t position, std::string_view raw, Comma comma) {
    return {std::string(label), static_cast<int>(position), std::string(raw), parse_text_value(raw, comma)};
}

Line decode_json(std::string_view line) {
    auto const json = nlohmann::json::parse(line, nullptr, false);
    if (!json.is_object()) return {LineSays::banner, {}};
    std::vector<LineItem> items;
    for (auto const& [key, value] : json.items()) {
        LineItem found{key, static_cast<int>(items.size() + 1), value.dump(), {}};
        if (value.is_number())
            found.value = parse_text_value(found.raw);
        else if (value.is_string())
            found.value = parse_text_value(value.get<std::string>());
        else if (value.is_null())
            found.value = parse_text_value("null");
        else
            found.value = Fault{FaultKind::garbled, bytes_in_quotes(found.raw) + " is no value"};
        items.push_back(std::move(found));
    }
    return values(std::move(items));
}

// Where `label =` or `label :` begins, from `from` on; the label and where its value begins.
struct Key {
    std::size_t begin = std::string_view::npos, end = 0, value = 0;
};
Key next_key(std::string_view line, std::size_t from) {
    for (auto mark = line.find_first_of("=:", from); mark != std::string_view::npos;
         mark = line.find_first_of("=:", mark + 1)) {
        auto end = mark;
        while (end > from && line[end - 1] == ' ') --end;
        auto begin = end;
        while (begin > from && is_label_char(line[begin - 1])) --begin;
        if (is_label(line.substr(begin, end - begin))) return {begin, end, mark + 1};
    }
    return {};
}

// `T1=88.5 T2=4.1`: a value reaches to the next label, so that "T1=Unable to read" stays whole.
std::vector<LineItem> decode_pairs(std::string_view line, Comma comma) {
    std::vector<LineItem> items;
    auto key = next_key(line, 0);
    while (key.begin != std::string_view::npos) {
        auto const next = next_key(line, key.value);
        auto raw = trim(line.substr(key.value, std::min(next.begin, line.size()) - key.value));
        while (!raw.empty() && (raw.back() == ',' || raw.back() == ';'))
            raw = trim(raw.substr(0, raw.size() - 1));
        items.push_back(item(line.substr(key.begin, key.end - key.begin), items.size() + 1, raw, comma));
        key = next;
    }
    return items;
}

// "58,5" is either 58.5 or two whole numbers: where no field has a point, a comma proves nothing.
bool could_be_decimal_comma(std::vector<std::string_view> const& fields) {
    if (fields.size() < 2) return false;
    return std::ranges::all_of(fields,
                               [](std::string_view field) {
                                   return !field.empty() && field[0] >= '0' && field[0] <= '9' &&
                                          field.find('.') == std::string_view::npos;
                               }) ||
           (fields.size() == 2 && (fields[0].starts_with('-') || fields[0].starts_with('+')) &&
            fields[0].find('.') == std::string_view::npos && !fields[1].empty() && fields[1][0] >= '0' &&
            fields[1][0] <= '9' && fields[1].find('.') == std::string_view::npos);
}

// `T1,88.5` and `T1,88.5,T2,4.1`.
bool labels_alternate(std::vector<std::string_view> const& fields) {
    if (fields.size() % 2 != 0) return false;
    for (std::size_t i = 0; i < fields.size(); i += 2)
        if (!is_label(fields[i]) || fault_word(fields[i])) return false;
    return true;
}

Line decode_places(std::string_view line, Comma comma) {
    std::string_view const marks = comma == Comma::decimal ? ";\t" : ",;\t";
    bool const marked = line.find_first_of(marks) != std::string_view::npos;
    if (marked) {
        auto const fields = split(line, marks);
        std::vector<LineItem> items;
        if (labels_alternate(fields)) {
            for (std::size_t i = 0; i < fields.size(); i += 2)
                items.push_back(item(fields[i], i / 2 + 1, fields[i + 1], comma));
            return values(std::move(items));
        }
        bool const doubtful = comma == Comma::careful && line.find(',') != std::string_view::npos &&
                              could_be_decimal_comma(fields);
        bool any = false;
        for (std::size_t i = 0; i < fields.size(); ++i) {
            items.push_back(item("", i + 1, fields[i], comma));
            any = any || is_number(items.back().value) || fault_word(fields[i]);
            if (doubtful)
                items.back().value =
                    Fault{FaultKind::garbled, bytes_in_quotes(line) +
                                                  ": could be a decimal comma; say comma = "
                                                  "\"decimal\" or \"separator\" in the kitchen file"};
        }
        return any ? values(std::move(items)) : Line{LineSays::banner, {}};
    }
    // One value, its unit perhaps after a blank, or values between blanks: all of them or it is a banner.
    auto const whole = item("", 1, line, comma);
    if (is_number(whole.value) || fault_word(line)) return values({whole});
    std::vector<LineItem> items;
    for (auto const field : split(line, " ")) {
        if (field.empty()) continue;
        items.push_back(item("", items.size() + 1, field, comma));
        if (!is_number(items.back().value) && !fault_word(field)) {
            bool const cut_number = items.size() == 1 && whole.value.index() == 1 &&
                                    std::get<Fault>(whole.value).kind != FaultKind::unspecified;
            return cut_number && field == line ? values({whole}) : Line{LineSays::banner, {}};
        }
    }
    return values(std::move(items));
}

}  // namespace

Line decode_line(std::string_view text, Comma comma) {
    if (!is_text(text)) return {LineSays::binary, {}};
    auto const line = trim(text);
    if (line.empty() || line[0] == '#') return {};
    if (line[0] == '{') return decode_json(line);
    if (auto items = decode_pairs(line, comma); !items.empty()) return values(std::move(items));
    return decode_places(line, comma);
}

std::optional<std::variant<double, Fault>> value_of(Line const& line, std::string_view channel,
                                                    std::optional<TextUnit> unit) {
    LineItem const* found = nullptr;
    for (auto const& candidate : line.items) {
        if (candidate.label != channel) continue;
        if (found)
            return Fault{FaultKind::garbled, "\"" + std::string(channel) + "\" comes twice in one line"};
        found = &candidate;
    }
    int position = 0;
    auto const end = channel.data() + channel.size();
    if (!found && std::from_chars(channel.data(), end, position).ptr == end)
        for (auto const& candidate : line.items)
            if (candidate.label.empty() && candidate.position == position) found = &candidate;
    if (!found) return std::nullopt;
    return to_celsius(found->value, unit, found->raw);
}

}  // namespace ingle
