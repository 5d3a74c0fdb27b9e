#include "config/band_words.hpp"

#include <algorithm>
#include <cctype>
#include <optional>

#include "config/quantity.hpp"
#include "config/typed_dashes.hpp"

namespace ingle {
namespace {

constexpr char const* both_ends = "say both ends of the band, such as 180 to 190 degF";

struct End {
    std::string number, unit;
};

// The numbers of the line, each with the letters that follow it; empty: there is something else in it.
std::optional<std::vector<End>> ends_of(std::string const& text) {
    std::vector<End> ends;
    std::size_t at = 0;
    auto const is = [&](auto what) { return at < text.size() && what(static_cast<unsigned char>(text[at])); };
    auto const skip = [&] {
        while (is([](int c) { return c == ' '; })) ++at;
    };
    for (skip(); at < text.size(); skip()) {
        if (!ends.empty()) {  // "180 to 190", "180-190", "180..190", "180 - 190"
            auto const rest = text.substr(at);
            // "-25 -18": a minus of the number's own. "180 - 190", "180-190": both ends.
            bool const own = rest.size() > 1 && rest[0] == '-' && text[at - 1] == ' ' &&
                             (std::isdigit(static_cast<unsigned char>(rest[1])) || rest[1] == '.');
            for (std::string const word : {"to ", "and ", "..", "-"})
                if (!own && rest.starts_with(word)) {
                    at += word.size();
                    break;
                }
            skip();
        }
        End end;
        if (is([](int c) { return c == '-' || c == '+'; })) end.number += text[at++];
        while (is([](int c) { return std::isdigit(c) || c == '.'; }) && text.compare(at, 2, "..") != 0)
            end.number += text[at++];
        if (end.number.empty() || end.number == "-") return {};
        skip();
        auto const rest = text.substr(at);
        bool const joined = rest.starts_with("to ") || rest.starts_with("and ");
        while (!joined && is([](int c) { return std::isalpha(c) || c >= 0x80; })) end.unit += text[at++];
        ends.push_back(std::move(end));
    }
    return ends;
}

}  // namespace

BandWords read_band(std::vector<std::string> const& words) {
    std::string text;
    for (auto const& word : words) text += (text.empty() ? "" : " ") + word;
    if (text.empty()) return {"", "", both_ends};
    if (text == "off" || text == "none") return {"", "", "to hold it no longer, say --off"};
    for (auto const dash : typed_dashes)
        for (auto at = text.find(dash); at != std::string::npos; at = text.find(dash, at))
            text.replace(at, dash.size(), "-");
    auto ends = ends_of(text);
    if (!ends || ends->size() != 2)
        return {"", "",
                ends && ends->size() == 1 ? std::string("that is one end; ") + both_ends
                                          : "\"" + text + "\" is not a band; " + both_ends};
    auto &low = (*ends)[0], &high = (*ends)[1];
    if (low.unit.empty()) low.unit = high.unit;
    if (high.unit.empty()) high.unit = low.unit;
    BandWords band;
    for (auto const& [end, into] : {std::pair(&low, &band.low), std::pair(&high, &band.high)}) {
        *into = end->unit.empty() ? end->number : end->number + " " + end->unit;
        auto const parsed = parse_temperature(*into);
        auto const* error = std::get_if<QuantityError>(&parsed);
        if (error) return {"", "", error->wrong + "; " + error->right};
    }
    return band;
}

}  // namespace ingle
