// Links in a notice that each do one act, once and until a time, without signing in: what they say, signed
// with a key that only the daemon has. Whether one was used is not known here. Pure; any thread.
#pragma once

#include <chrono>
#include <cstdint>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "daemon/notices/notice.hpp"
#include "drivers/api/options.hpp"

namespace ingle {

inline constexpr std::chrono::minutes link_shelves_for{30};
// From the moment that the notice tells of; of one that comes late, for at least half as long from then on.
inline constexpr std::chrono::hours link_lasts{12};

struct LinkAct {
    bool shelve = false;                   // else they are acknowledged
    std::vector<std::int64_t> alarms;      // occurrences, by number
    std::int64_t told_s = 0, until_s = 0;  // the moment that it tells of, and its end: s since 1970
    std::string channel;                   // that it was sent to
    friend bool operator==(LinkAct const&, LinkAct const&) = default;
};

class LinkSigner {
public:
    LinkSigner() = default;  // makes no links, and knows none
    // `base`: "http://host:port". Without a key there are links to the page only.
    LinkSigner(std::string base, std::string key) : base_(std::move(base)), key_(std::move(key)) {}

    // `now`: wall time, where it is known.
    NoticeLinks links(Notice const& notice, std::string const& channel,
                      std::optional<std::chrono::sys_seconds> now = std::nullopt) const;
    std::string token(LinkAct const& act) const;                // what follows BASE/link/
    std::optional<LinkAct> read(std::string_view token) const;  // empty: this key did not sign it

private:
    std::string signature(std::string_view said) const;

    std::string base_, key_;
};

// The key of a channel whose notices may have links.
inline constexpr OptionInfo links_option{
    "links",
    OptionKind::text,
    false,
    "",
    {},
    0,
    0,
    "where its reader has the page, \"http://192.168.1.20:8094\": each notice has links to it, two of which "
    "acknowledge or shelve, once each and without signing in"};
// What it says: "http://host:port" without what may end it; "" = not given. Throws WrongOption.
std::string link_base(std::string text);

// The part of a token that no other has: what tells that it was used.
std::string signature_of(std::string_view token);

}  // namespace ingle
