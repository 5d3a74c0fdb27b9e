// How the running sums of this folder survive a restart: each lists its numbers, in a fixed order, to a
// visitor that writes them into one text or reads them back. The text begins with the version of that order:
// whoever adds, drops or moves a number raises it, so that an older text is refused and never misread. Pure;
// any thread.
#pragma once

#include <charconv>
#include <string>
#include <string_view>

namespace ingle {

constexpr std::string_view food_fields_version = "food-5";

class FieldVisitor {
public:
    static FieldVisitor writing() {
        FieldVisitor visit;
        visit.text_ = food_fields_version;
        return visit;
    }
    static FieldVisitor reading(std::string_view text) { return FieldVisitor(text); }

    void number(double& value) {
        if (reading_) {
            skip_blank();
            auto const [end, error] = std::from_chars(rest_.data(), rest_.data() + rest_.size(), value);
            if (error != std::errc{}) broken_ = true;
            rest_.remove_prefix(static_cast<std::size_t>(end - rest_.data()));
        } else {
            char buffer[32];
            auto const end = std::to_chars(buffer, buffer + sizeof buffer, value).ptr;
            if (!text_.empty()) text_ += ' ';
            text_.append(buffer, end);
        }
    }
    void flag(bool& value) {
        double n = value ? 1 : 0;
        number(n);
        if (reading_) value = n != 0;
    }
    template <class Enum>
    void choice(Enum& value) {
        double n = static_cast<int>(value);
        number(n);
        if (reading_) value = static_cast<Enum>(static_cast<int>(n));
    }

    std::string const& text() const { return text_; }
    // Not a text of this version, damaged, or longer than what was asked for.
    bool broken() const { return broken_ || !rest_.empty(); }

private:
    FieldVisitor() = default;
    explicit FieldVisitor(std::string_view text) : reading_(true) {
        broken_ = !text.starts_with(food_fields_version);
        if (!broken_) rest_ = text.substr(food_fields_version.size());
    }
    void skip_blank() {
        while (!rest_.empty() && rest_.front() == ' ') rest_.remove_prefix(1);
    }

    bool reading_ = false, broken_ = false;
    std::string text_;
    std::string_view rest_;
};

}  // namespace ingle
