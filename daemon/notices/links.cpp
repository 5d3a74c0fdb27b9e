#include "daemon/notices/links.hpp"

#include <algorithm>
#include <cctype>
#include <charconv>

#include "config/civil_time/iso_time.hpp"
#include "daemon/notices/sha256.hpp"

namespace ingle {
namespace {

// "acknowledge.12-13.1795669200.1795712400.phone.SIGNATURE": names and numbers have no dot.
constexpr std::size_t part_count = 6;
constexpr std::size_t signature_digits = 32;  // 128 bits
constexpr std::size_t most_alarms = 40;       // beyond them the address would be cut by a mail program
constexpr std::size_t longest_token = 1000;
constexpr std::string_view acknowledge_word = "acknowledge", shelve_word = "shelve";

std::string said_of(LinkAct const& act) {
    std::string alarms;
    for (auto const alarm : act.alarms) alarms += (alarms.empty() ? "" : "-") + std::to_string(alarm);
    return std::string(act.shelve ? shelve_word : acknowledge_word) + '.' + alarms + '.' +
           std::to_string(act.told_s) + '.' + std::to_string(act.until_s) + '.' + act.channel;
}

std::vector<std::string_view> parts_of(std::string_view text, char between) {
    std::vector<std::string_view> parts;
    for (;;) {
        auto const end = std::min(text.find(between), text.size());
        parts.push_back(text.substr(0, end));
        if (end == text.size()) return parts;
        text.remove_prefix(end + 1);
    }
}

std::optional<std::int64_t> number_of(std::string_view text) {
    std::int64_t number = 0;
    auto const [end, error] = std::from_chars(text.data(), text.data() + text.size(), number);
    bool const whole = error == std::errc{} && end == text.data() + text.size();
    return whole ? std::optional(number) : std::nullopt;
}

// Takes as long for a near miss as for a far one.
bool same(std::string_view shown, std::string_view right) {
    unsigned difference = shown.size() == right.size() ? 0U : 1U;
    for (std::size_t i = 0; i < right.size(); ++i)
        difference |= static_cast<unsigned char>((i < shown.size() ? shown[i] : '\0') ^ right[i]);
    return difference == 0;
}

}  // namespace

std::string LinkSigner::signature(std::string_view said) const {
    return hmac_sha256_hex(key_, said).substr(0, signature_digits);
}

std::string LinkSigner::token(LinkAct const& act) const {
    auto const said = said_of(act);
    return said + '.' + signature(said);
}

std::optional<LinkAct> LinkSigner::read(std::string_view token) const {
    if (key_.empty() || token.size() > longest_token) return std::nullopt;
    auto const end = std::min(token.rfind('.'), token.size());
    if (!same(signature_of(token), signature(token.substr(0, end)))) return std::nullopt;
    auto const parts = parts_of(token, '.');
    if (parts.size() != part_count) return std::nullopt;
    LinkAct act{parts[0] == shelve_word,
                {},
                number_of(parts[2]).value_or(0),
                number_of(parts[3]).value_or(0),
                std::string(parts[4])};
    for (auto const each : parts_of(parts[1], '-'))
        if (auto const alarm = number_of(each)) act.alarms.push_back(*alarm);
    return act;
}

NoticeLinks LinkSigner::links(Notice const& notice, std::string const& channel,
                              std::optional<std::chrono::sys_seconds> now) const {
    NoticeLinks links;
    if (base_.empty()) return links;
    links.page = base_ + '/';
    bool const asks = notice.kind == "raised" || notice.kind == "reminder" || notice.kind == "summary";
    auto const at = notice.at ? parse_iso_time(*notice.at) : std::nullopt;
    if (!asks || !at || key_.empty() || notice.link_alarms.empty() || notice.link_alarms.size() > most_alarms)
        return links;
    auto const told = std::chrono::floor<std::chrono::seconds>(*at);
    // In steps, so that attempts that follow each other have the same links, which then work once.
    constexpr std::chrono::seconds step = link_lasts / 2;
    auto const late = now ? std::max<std::chrono::seconds>(*now - told, std::chrono::seconds(0)) / step : 0;
    auto const until = told + link_lasts + late * step;
    LinkAct act{false, notice.link_alarms, told.time_since_epoch().count(), until.time_since_epoch().count(),
                channel};
    links.acknowledge = base_ + "/link/" + token(act);
    act.shelve = true;
    links.shelve = base_ + "/link/" + token(act);
    return links;
}

std::string link_base(std::string text) {
    bool const site = text.starts_with("http://") || text.starts_with("https://");
    auto const usable = [](char c) {
        return std::isalnum(static_cast<unsigned char>(c)) != 0 || c == '.' || c == '-' || c == ':' ||
               c == '[' || c == ']';
    };
    auto const host = text.find("://") + 3;
    if (site && text.size() > host + 1 && text.ends_with('/')) text.pop_back();
    if (text.empty() || (site && text.size() > host && std::ranges::all_of(text.substr(host), usable)))
        return text;
    throw WrongOption("links", "is no address of a site", "such as \"http://192.168.1.20:8094\"");
}

std::string signature_of(std::string_view token) {
    auto const dot = token.rfind('.');
    return std::string(dot == std::string_view::npos ? std::string_view() : token.substr(dot + 1));
}

}  // namespace ingle
