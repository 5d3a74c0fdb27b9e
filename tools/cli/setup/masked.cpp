#include "tools/cli/setup/masked.hpp"

#include <algorithm>
#include <array>
#include <cctype>

namespace ingle::cli {
namespace {

constexpr std::string_view left_out = "(left out)";
constexpr std::size_t shortest_secret = 5;  // shorter ones would take words out of every sentence

// Whose values say what is wired and watched. A key that is not here is taken for a secret.
constexpr std::array open_keys{"name",
                               "units",
                               "altitude",
                               "pressure",
                               "logbook",
                               "keep-readings",
                               "zone",
                               "awake",
                               "cooling-rule",
                               "driver",
                               "every",
                               "plausible",
                               "calibration",
                               "kind",
                               "medium",
                               "more",
                               "door",
                               "band",
                               "deadband",
                               "on-delay",
                               "off-delay",
                               "look-ahead",
                               "reach-within",
                               "salt",
                               "room-for",
                               "liquid",
                               "vessel",
                               "core",
                               "more-cores",
                               "food",
                               "preparation",
                               "shape",
                               "thickness",
                               "mass",
                               "plan",
                               "serve-at",
                               "least",
                               "after",
                               "tcp",
                               "port",
                               "token-env",
                               "password-env",
                               "signing-key-env",
                               "does",
                               "until",
                               "at-least",
                               "at-most",
                               "core-most",
                               "hands",
                               "excursion",
                               "average",
                               "baud",
                               "bias",
                               "chip",
                               "closed",
                               "channel",
                               "function",
                               "host",
                               "line",
                               "mode",
                               "mosi",
                               "of",
                               "parity",
                               "register",
                               "root",
                               "scale",
                               "seed",
                               "shelve-for",
                               "speed",
                               "story",
                               "supply-cut",
                               "tls",
                               "type",
                               "unit",
                               "word-order",
                               "clock",
                               "data",
                               "select",
                               "spi",
                               "device",
                               "counts",
                               "format",
                               "id"};

bool is_key_character(char c) {
    return std::isalnum(static_cast<unsigned char>(c)) || c == '-' || c == '_' || c == '.';
}

class Reader {
public:
    Reader(std::string_view text, bool sound) : text_(text), sound_(sound) {}

    Masked read() {
        while (at_ < text_.size()) {
            char const c = text_[at_];
            if (c == '#')
                skip_line();
            else if (c == '[')
                header();
            else if (std::isspace(static_cast<unsigned char>(c)))
                ++at_;
            else
                statement();
        }
        return std::move(out_);
    }

private:
    void skip_line() {
        while (at_ < text_.size() && text_[at_] != '\n') ++at_;
    }
    void header() {
        std::string line = "\n";
        for (; at_ < text_.size() && text_[at_] != '\n' && text_[at_] != '#'; ++at_)
            if (is_key_character(text_[at_]) || text_[at_] == '[' || text_[at_] == ']') line += text_[at_];
        out_.text += line + "\n";
    }

    void statement() {
        std::string key;
        for (; at_ < text_.size() && text_[at_] != '=' && text_[at_] != '\n'; ++at_)
            if (is_key_character(text_[at_])) key += text_[at_];
        if (at_ >= text_.size() || text_[at_] == '\n') return;  // no statement: nothing of it stays
        ++at_;
        bool const open = sound_ && std::ranges::find(open_keys, key) != open_keys.end();
        auto const said = value(!open);
        out_.text += key + " = " + (open ? masked_words(said, {}) : std::string(left_out)) + "\n";
    }

    // To the end of the statement, without comments.
    std::string value(bool secret) {
        std::string said;
        int depth = 0;
        while (at_ < text_.size()) {
            char const c = text_[at_];
            if (c == '"' || c == '\'') {
                auto const begin = at_;
                auto const inner = string_at();
                said += text_.substr(begin, at_ - begin);
                if (secret) keep(inner);
                continue;
            }
            if (c == '#') {
                skip_line();
                continue;
            }
            if (c == '[' || c == '{') ++depth;
            if (c == ']' || c == '}') --depth;
            ++at_;
            if (c == '\n' && depth <= 0) break;
            said += c == '\n' ? ' ' : c;
        }
        auto const first = said.find_first_not_of(" \t\r"), last = said.find_last_not_of(" \t\r");
        return first == std::string::npos ? "" : said.substr(first, last - first + 1);
    }

    // As it is written, and as it is read.
    void keep(std::string_view inner) {
        std::string plain;
        for (std::size_t i = 0; i < inner.size(); ++i) {
            if (inner[i] == '\\' && i + 1 < inner.size() && (inner[i + 1] == '\\' || inner[i + 1] == '"'))
                ++i;
            plain += inner[i];
        }
        for (auto const& one : {std::string(inner), plain})
            if (one.size() >= shortest_secret) out_.secrets.push_back(one);
    }

    // Past a string of any of the four kinds; what it holds, as it is written.
    std::string_view string_at() {
        char const mark = text_[at_];
        bool const long_one = text_.substr(at_, 3) == std::string(3, mark);
        auto const width = long_one ? 3U : 1U;
        auto const begin = at_ + width;
        for (at_ = begin; at_ < text_.size(); ++at_) {
            if (text_[at_] == '\\' && mark == '"') {
                ++at_;
            } else if (long_one ? text_.substr(at_, 3) == std::string(3, mark)
                                : text_[at_] == mark || text_[at_] == '\n') {
                auto const inner = text_.substr(begin, at_ - begin);
                if (text_[at_] != '\n' || long_one) at_ += width;
                return inner;
            }
        }
        at_ = text_.size();
        return text_.substr(std::min(begin, text_.size()));
    }

    std::string_view text_;
    bool sound_;
    std::size_t at_ = 0;
    Masked out_;
};

bool ends_a_word(char c) {
    return std::isspace(static_cast<unsigned char>(c)) || c == '"' || c == '\'' || c == '<' || c == '>' ||
           c == ',' || c == ';' || c == ')' || c == '(';
}

void mask_urls(std::string& text) {
    for (auto at = text.find("://"); at != std::string::npos; at = text.find("://", at + 3)) {
        auto end = at + 3;
        while (end < text.size() && !ends_a_word(text[end])) ++end;
        auto host = text.substr(at + 3, end - at - 3);
        // The last @ before the path ends user and password; one that stands in them is no end.
        auto const path =
            host.find_first_of("/?#", host.rfind('@') == std::string::npos ? 0 : host.rfind('@'));
        bool const more = path != std::string::npos && path + 1 < host.size();
        if (path != std::string::npos) host.erase(path);
        if (auto const user = host.rfind('@'); user != std::string::npos)
            host = std::string(left_out) + host.substr(user);
        text.replace(at + 3, end - at - 3, host + (more ? "/" + std::string(left_out) : ""));
    }
}

void mask_mail(std::string& text) {
    auto const in_address = [](char c) {
        return std::isalnum(static_cast<unsigned char>(c)) ||
               std::string_view("._%+-").find(c) != std::string_view::npos;
    };
    for (auto at = text.find('@'); at != std::string::npos; at = text.find('@', at + 1)) {
        auto begin = at, end = at + 1;
        while (begin > 0 && in_address(text[begin - 1])) --begin;
        while (end < text.size() && in_address(text[end])) ++end;
        if (begin == at || end == at + 1) continue;
        text.replace(begin, end - begin, left_out);
        at = begin;
    }
}

// What follows these words: "Authorization: Bearer ...", "token=...".
void mask_named(std::string& text) {
    std::string small(text);
    std::ranges::transform(small, small.begin(), [](char c) {
        return static_cast<char>(std::tolower(static_cast<unsigned char>(c)));
    });
    for (std::string const name :
         {"bearer ", "basic ", "token=", "password=", "key=", "secret=", "token: ", "password: "})
        for (auto at = small.rfind(name); at != std::string::npos;
             at = at == 0 ? at - 1 : small.rfind(name, at - 1)) {
            auto const begin = at + name.size();
            auto end = begin;
            while (end < small.size() && !ends_a_word(small[end]) && small[end] != '&') ++end;
            text.replace(begin, end - begin, left_out);
            small.replace(begin, end - begin, left_out);
        }
}

}  // namespace

Masked masked_settings(std::string_view toml, bool sound) {
    return Reader(toml, sound).read();
}

std::string masked_words(std::string text, std::vector<std::string> secrets) {
    // A short one may be a part of a longer one.
    std::ranges::sort(secrets, [](auto const& a, auto const& b) { return a.size() > b.size(); });
    for (auto const& secret : secrets)
        for (auto at = text.find(secret); at != std::string::npos;
             at = text.find(secret, at + left_out.size()))
            text.replace(at, secret.size(), left_out);
    mask_urls(text);
    mask_mail(text);
    mask_named(text);
    return text;
}

}  // namespace ingle::cli
