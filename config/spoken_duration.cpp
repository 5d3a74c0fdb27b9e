#include "config/spoken_duration.hpp"

#include <algorithm>
#include <array>
#include <vector>

namespace ingle {
namespace {

struct Spoken {
    std::string_view typed, meant;
};
constexpr std::array spoken_durations{Spoken{"sec", "s"},    Spoken{"secs", "s"}, Spoken{"m", "min"},
                                      Spoken{"mins", "min"}, Spoken{"hr", "h"},   Spoken{"hrs", "h"}};
struct Number {
    std::string_view word, digits;
};
// Numbers as words, for lengths of time.
constexpr std::array number_words{Number{"a", "1"},       Number{"an", "1"},      Number{"one", "1"},
                                  Number{"two", "2"},     Number{"three", "3"},   Number{"four", "4"},
                                  Number{"five", "5"},    Number{"six", "6"},     Number{"seven", "7"},
                                  Number{"eight", "8"},   Number{"nine", "9"},    Number{"ten", "10"},
                                  Number{"eleven", "11"}, Number{"twelve", "12"}, Number{"fifteen", "15"},
                                  Number{"twenty", "20"}, Number{"thirty", "30"}, Number{"forty", "40"},
                                  Number{"fifty", "50"},  Number{"sixty", "60"},  Number{"ninety", "90"}};

bool is_space(char c) {
    return c == ' ' || c == '\t';
}

std::string_view trimmed(std::string_view text) {
    while (!text.empty() && is_space(text.front())) text.remove_prefix(1);
    return text;
}

// The letters at the front of `text`, which is then shortened by them.
std::string_view take_letters(std::string_view& text) {
    auto const end = std::min(text.find_first_of(" \t0123456789+-"), text.size());
    auto const word = text.substr(0, end);
    text.remove_prefix(end);
    return word;
}

// "two hours" as "2 hours", "half an hour" as "0.5 hour", "an hour and a half" as "1 hour 0.5 hour".
std::string with_digits(std::string_view text) {
    std::vector<std::string_view> words;
    for (; !text.empty(); text = trimmed(text)) {
        auto const word = text.substr(0, text.find_first_of(" \t"));
        words.push_back(word);
        text.remove_prefix(word.size());
    }
    auto const is = [&](std::size_t i, std::string_view word) {
        return i < words.size() && words[i] == word;
    };
    auto const article = [&](std::size_t i) { return is(i, "a") || is(i, "an"); };
    std::string plain;
    auto const put = [&](std::string_view word) { plain.append(plain.empty() ? "" : " ").append(word); };
    for (std::size_t i = 0; i < words.size(); ++i) {
        auto const* number = std::ranges::find(number_words, words[i], &Number::word);
        if (is(i, "and") && article(i + 1) && is(i + 2, "half") && i > 0) {
            // "two and a half hours": the unit follows; "an hour and a half": it came before.
            bool const unit_follows = i + 3 < words.size();
            put("0.5");
            if (!unit_follows) put(words[i - 1]);
            if (unit_follows) plain.replace(plain.size() - 3, 3, std::string(words[i + 3]) + " 0.5");
            i += 2;
        } else if (is(i, "half") && article(i + 1) && i + 2 < words.size()) {
            put("0.5"), ++i;
        } else if (article(i) && is(i + 1, "quarter") && is(i + 2, "of") && article(i + 3)) {
            put("0.25"), i += 3;
        } else if (article(i) && is(i + 1, "half") && i + 2 < words.size()) {
            put("0.5"), ++i;
        } else if (is(i, "and") && i > 0 && i + 1 < words.size()) {
            continue;
        } else {
            put(number == number_words.end() ? words[i] : number->digits);
        }
    }
    return plain;
}

}  // namespace

std::string plain_duration(std::string_view said) {
    auto const digits = with_digits(said);
    std::string_view text = digits;
    std::string plain, last;
    while (!text.empty()) {
        auto const word = take_letters(text);
        if (word.empty()) {
            plain += text.front();
            text.remove_prefix(1);
            continue;
        }
        auto const* spoken = std::ranges::find(spoken_durations, word, &Spoken::typed);
        last = spoken == spoken_durations.end() ? word : spoken->meant;
        plain += last;
    }
    bool const minutes_follow = last == "h" && !plain.empty() && plain.back() >= '0' && plain.back() <= '9';
    return minutes_follow ? plain + "min" : plain;
}

}  // namespace ingle
