// Links in notices: what is signed comes back, anything else does not; and which notice has which.
#include "daemon/notices/links.hpp"
#include "daemon/notices/webhook/body_template.hpp"
#include "tests/support/catch.hpp"

using namespace ingle;

namespace {

LinkSigner const& signer() {
    static LinkSigner const signer("http://hall.example:8094", "sesame");
    return signer;
}

Notice raised() {
    Notice notice;
    notice.id = "n-1";
    notice.kind = "raised";
    notice.at = "2026-11-26T16:00:00-05:00";
    notice.link_alarms = {12, 13};
    return notice;
}

std::string token_in(std::string const& link) {
    return link.substr(std::string("http://hall.example:8094/link/").size());
}

}  // namespace

TEST_CASE("a link says what it does, and only the key that signed it reads it") {
    auto const links = signer().links(raised(), "phone");
    CHECK(links.page == "http://hall.example:8094/");
    auto const act = signer().read(token_in(links.acknowledge));
    REQUIRE(act);
    CHECK(*act == LinkAct{false, {12, 13}, 1'795'726'800, 1'795'770'000, "phone"});  // 12 h later
    CHECK(signer().read(token_in(links.shelve))->shelve);
    CHECK_FALSE(LinkSigner("", "another").read(token_in(links.acknowledge)));
    CHECK_FALSE(LinkSigner("", "").read(token_in(links.acknowledge)));
    CHECK_FALSE(LinkSigner().read(LinkSigner().token(*act)));
    CHECK(signature_of(token_in(links.acknowledge)) != signature_of(token_in(links.shelve)));
    auto const token = token_in(links.acknowledge);
    for (std::size_t i = 0; i < token.size(); ++i) {
        auto changed = token;
        changed[i] = changed[i] == '1' ? '2' : '1';
        CHECK_FALSE(signer().read(changed));
        CHECK_FALSE(signer().read(token.substr(0, i)));
    }
    CHECK_FALSE(signer().read(token + "0"));
    CHECK_FALSE(signer().read(std::string(100'000, '.')));
}

TEST_CASE("only a notice that asks for somebody, of a known time, has links that act") {
    auto const acts = [](Notice const& notice) {
        auto const links = signer().links(notice, "phone");
        CHECK(links.acknowledge.empty() == links.shelve.empty());
        CHECK_FALSE(links.page.empty());
        return !links.acknowledge.empty();
    };
    auto notice = raised();
    CHECK(acts(notice));
    notice.kind = "reminder";
    CHECK(acts(notice));
    notice.kind = "summary";  // of what is open
    CHECK(acts(notice));
    for (auto const* kind : {"cleared", "test", "heartbeat"}) {
        notice.kind = kind;
        CHECK_FALSE(acts(notice));
    }
    notice = raised();
    notice.at.reset();
    CHECK_FALSE(acts(notice));
    notice = raised();
    notice.link_alarms.clear();
    CHECK_FALSE(acts(notice));
    notice.link_alarms.assign(41, 1);
    CHECK_FALSE(acts(notice));
    CHECK(LinkSigner().links(raised(), "phone").page.empty());
    CHECK(LinkSigner("http://hall.example", "").links(raised(), "phone").acknowledge.empty());
}

TEST_CASE("what comes late has links that hold for 6 h at least, and the same ones for a while") {
    using std::chrono::seconds;
    std::chrono::sys_seconds const told(seconds(1'795'726'800));
    for (int s = 0; s < 5 * 86'400; s += 997) {
        INFO(s);
        auto const now = told + seconds(s);
        auto const act = signer().read(token_in(signer().links(raised(), "phone", now).acknowledge));
        REQUIRE(act);
        CHECK(act->told_s == 1'795'726'800);
        auto const left = act->until_s - now.time_since_epoch().count();
        CHECK(left > 6 * 3600);
        CHECK(left <= 12 * 3600);
    }
    auto const at = [&](int s) { return signer().links(raised(), "phone", told + seconds(s)).shelve; };
    CHECK(at(0) == signer().links(raised(), "phone").shelve);
    CHECK(at(0) == at(6 * 3600 - 1));
    CHECK(at(-3600) == at(0));  // a clock that was put back
}

TEST_CASE("links are told and not stored; what they act on is stored and not told") {
    auto notice = raised();
    notice.links = signer().links(notice, "phone");
    CHECK_THAT(to_json(notice), INGLE_CONTAINS("\"links\":{\"page\""));
    CHECK(to_json(notice).find("alarms") == std::string::npos);
    CHECK(stored_json(notice).find("http") == std::string::npos);
    auto const back = notice_from_json(stored_json(notice));
    REQUIRE(back);
    CHECK(back->link_alarms == notice.link_alarms);
    CHECK(signer().links(*back, "phone").acknowledge == notice.links.acknowledge);
    CHECK(
        webhook::fill("{acknowledge-link} {shelve-link} {page-link}", notice, "", webhook::Escaping::json) ==
        notice.links.acknowledge + ' ' + notice.links.shelve + ' ' + notice.links.page);
}
