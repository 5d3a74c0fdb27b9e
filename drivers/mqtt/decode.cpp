#include "drivers/mqtt/decode.hpp"

#include <algorithm>
#include <cmath>
#include <nlohmann/json.hpp>

#include "config/civil_time/iso_time.hpp"

namespace ingle {
namespace {

using nlohmann::json;

json const* find(json const& object, std::string_view path) {
    json const* at = &object;
    while (!path.empty()) {
        auto const dot = path.find('.');
        if (!at->is_object()) return nullptr;
        auto const next = at->find(std::string(path.substr(0, dot)));
        if (next == at->end()) return nullptr;
        at = &*next;
        path = dot == std::string_view::npos ? std::string_view() : path.substr(dot + 1);
    }
    return at;
}

std::optional<WallTime> time_of(json const& value) {
    if (value.is_string()) return parse_iso_time(value.get<std::string>());
    if (!value.is_number()) return std::nullopt;
    double number = value.get<double>();
    constexpr double longest_seconds = 1e11;  // the year 5138 in seconds, 1973 in milliseconds
    if (std::abs(number) < longest_seconds) number *= 1000.0;
    if (!(std::abs(number) < 1e15)) return std::nullopt;
    return WallTime(std::chrono::milliseconds(static_cast<std::int64_t>(number)));
}

Reading faulty(Clocks now, Fault fault) {
    return {now.at, std::move(fault), {}, {}, false};
}

}  // namespace

bool says_gone(std::string_view payload) {
    std::string word(trim(payload));
    for (char& c : word)
        if (c >= 'A' && c <= 'Z') c = static_cast<char>(c - 'A' + 'a');
    if (word.size() >= 2 && word.front() == '"' && word.back() == '"') word = word.substr(1, word.size() - 2);
    return word.empty() || word == "offline" || word == "gone" || word == "lost" || word == "disconnected" ||
           word == "dead";
}

Reading decode_message(std::string_view payload, bool retained, MessageMeaning const& meaning, Clocks now) {
    if (says_gone(payload)) return faulty(now, {FaultKind::no_reply, "the sender is gone, says its broker"});
    std::string raw(payload);
    TextValue value;
    std::optional<WallTime> measured;
    if (meaning.field.empty()) {
        value = parse_text_value(payload);
    } else {
        auto const object = json::parse(payload, nullptr, false);
        auto const* field = object.is_object() ? find(object, meaning.field) : nullptr;
        if (!field)
            return faulty(now, {FaultKind::garbled,
                                "no field \"" + meaning.field + "\" in " + bytes_in_quotes(payload)});
        if (field->is_structured() || field->is_boolean())
            return faulty(now, {FaultKind::garbled, "the field \"" + meaning.field + "\" holds no value"});
        raw = field->is_string() ? field->get<std::string>() : field->dump();
        value = parse_text_value(raw);
        if (auto const* time = find(object, meaning.time_field); time && !meaning.time_field.empty()) {
            measured = time_of(*time);
            if (!measured)
                return faulty(
                    now, {FaultKind::garbled, "the sender's time is none: " + bytes_in_quotes(time->dump())});
        }
    }
    Span age{};
    if (measured && now.wall) {
        age = std::chrono::duration_cast<Span>(*now.wall - *measured);
        if (age > meaning.oldest)
            return faulty(now, {FaultKind::stale, "measured " + std::to_string(age.count() / 1000) +
                                                      " s ago, says the sender"});
        if (age < -meaning.oldest)
            return faulty(now,
                          {FaultKind::stale, "the sender's clock is " + std::to_string(-age.count() / 1000) +
                                                 " s ahead of this machine's: one of them is wrong"});
    } else if (retained) {
        return faulty(now, {FaultKind::stale, "the broker kept this value for an unknown time"});
    }
    auto celsius = to_celsius(value, meaning.unit, raw);
    return {now.at - (retained ? std::max(age, Span(0)) : Span(0)), std::move(celsius), {}, {}, false};
}

}  // namespace ingle
