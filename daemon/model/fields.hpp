// The state of an object as one text of its numbers: a class lists its members once, in `fields(visit)`, and
// the same list writes them and reads them back. What they mean has the version of the part that remembers
// them (see memory.hpp). Pure; any thread.
#pragma once

#include <array>
#include <charconv>
#include <cmath>
#include <cstdint>
#include <optional>
#include <string>
#include <string_view>
#include <type_traits>
#include <utility>

#include "daemon/model/memory.hpp"
#include "drivers/reading/clock.hpp"

namespace ingle {

class FieldWriter {
public:
    template <class... T>
    void operator()(T&... values) {
        (put(values), ...);
    }
    void index(int& value, int /*end*/) { put_number(value); }
    std::string const& text() const { return text_; }

private:
    template <class T>
    void put(T& value) {
        if constexpr (std::is_same_v<T, Instant>)
            put_number(value.time_since_epoch().count());
        else if constexpr (std::is_same_v<T, Span>)
            put_number(value.count());
        else if constexpr (std::is_same_v<T, bool> || std::is_enum_v<T>)
            put_number(static_cast<int>(value));
        else if constexpr (std::is_arithmetic_v<T>)
            put_number(value);
        else
            value.fields(*this);
    }
    template <class T>
    void put(std::optional<T>& value) {
        bool there = value.has_value();
        put(there);
        if (there) put(*value);
    }
    template <class T, std::size_t N>
    void put(std::array<T, N>& values) {
        for (auto& value : values) put(value);
    }
    template <class A, class B>
    void put(std::pair<A, B>& both) {
        put(both.first);
        put(both.second);
    }
    template <class N>
    void put_number(N value) {
        char buffer[32];
        auto const end = std::to_chars(buffer, buffer + sizeof buffer, value).ptr;
        if (!text_.empty()) text_ += ' ';
        text_.append(buffer, end);
    }
    std::string text_;
};

class FieldReader {
public:
    // `shift`: of the boot that the text was written in to this one.
    FieldReader(std::string_view text, Span shift) : rest_(text), shift_(shift) {}

    template <class... T>
    void operator()(T&... values) {
        (get(values), ...);
    }
    // 0 <= value < end, or the text is damaged.
    void index(int& value, int end) {
        get_number(value);
        if (value >= 0 && value < end) return;
        broken_ = true;
        value = 0;
    }
    // All that was asked for was there, and nothing else.
    bool whole() const { return !broken_ && rest_.empty(); }

private:
    template <class T>
    void get(T& value) {
        if constexpr (std::is_same_v<T, Instant>) {
            Span::rep ms = 0;
            get_number(ms);
            value = Instant(Span(ms)) + shift_;
        } else if constexpr (std::is_same_v<T, Span>) {
            Span::rep ms = 0;
            get_number(ms);
            value = Span(ms);
        } else if constexpr (std::is_same_v<T, bool> || std::is_enum_v<T>) {
            int n = 0;
            get_number(n);
            value = static_cast<T>(n);
        } else if constexpr (std::is_arithmetic_v<T>) {
            get_number(value);
        } else {
            value.fields(*this);
        }
    }
    template <class T>
    void get(std::optional<T>& value) {
        bool there = false;
        get(there);
        value.reset();
        if (there) get(value.emplace());
    }
    template <class T, std::size_t N>
    void get(std::array<T, N>& values) {
        for (auto& value : values) get(value);
    }
    template <class A, class B>
    void get(std::pair<A, B>& both) {
        get(both.first);
        get(both.second);
    }
    template <class N>
    void get_number(N& value) {
        if (rest_.starts_with(' ')) rest_.remove_prefix(1);
        auto const [end, error] = std::from_chars(rest_.data(), rest_.data() + rest_.size(), value);
        if (error != std::errc{} || !(std::abs(static_cast<double>(value)) < 1e18)) broken_ = true;
        rest_.remove_prefix(static_cast<std::size_t>(end - rest_.data()));
    }
    std::string_view rest_;
    Span shift_;
    bool broken_ = false;
};

template <class Object>
void remember_fields(Memory& memory, std::string key, Object object) {
    FieldWriter visit;
    object.fields(visit);
    memory.put(std::move(key), visit.text());
}
// False, and the object as it was, where there is no such text or it is damaged.
template <class Object>
bool recall_fields(Memory const& memory, std::string_view key, Object& object) {
    auto const text = memory.text(key);
    if (!text) return false;
    FieldReader visit(*text, memory.shift());
    Object read = object;
    read.fields(visit);
    if (visit.whole()) object = std::move(read);
    return visit.whole();
}

}  // namespace ingle
