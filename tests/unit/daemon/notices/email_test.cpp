#include <signal.h>
#include <stdio.h>

#include <cstdlib>
#include <filesystem>
#include <fstream>
#include <future>

#include <nlohmann/json.hpp>

#include "daemon/notices/email/email.hpp"
#include "daemon/notices/email/message.hpp"
#include "daemon/notices/notifier.hpp"
#include "tests/support/catch.hpp"

using namespace ingle;

namespace {

// Debian's python3-aiosmtpd: an implementation of SMTP that is not ours. Ends with this object.
class MailServer {
public:
    explicit MailServer(std::string const& mode)
        : pipe_(::popen(
              ("exec /usr/bin/python3 " TEST_DATA "/unit/daemon/notices/smtp_server.py " + mode).c_str(),
              "r")),
          port_(line()),
          pid_(std::stoi(line())) {}
    ~MailServer() {
        ::kill(pid_, SIGTERM);
        ::pclose(pipe_);
    }
    MailServer(MailServer const&) = delete;
    MailServer& operator=(MailServer const&) = delete;
    std::string line() {
        std::string text;
        for (int c; (c = ::fgetc(pipe_)) != EOF && c != '\n';) text += static_cast<char>(c);
        return text;
    }
    std::string url() const { return "smtp://127.0.0.1:" + port_; }
    std::string const& port() const { return port_; }

private:
    FILE* pipe_;
    std::string port_;
    pid_t pid_;
};

std::unique_ptr<Notifier> mailer(std::string const& server, std::string const& password = "",
                                 FreeKeys more = {{"tls", {"no", {}}}},
                                 email::Patience const& patience = {}) {
    auto const folder = std::filesystem::path(TEST_BUILD) / "unit_notices_mail";
    std::filesystem::create_directories(folder);
    FreeKeys keys{{"server", {server, {}}},
                  {"from", {"ingle@hall.example", {}}},
                  {"to", {std::vector<std::string>{"cook@hall.example", "waiter@hall.example"}, {}}}};
    keys.merge(more);
    if (!password.empty()) {
        std::ofstream(folder / "password") << password << "\n";
        std::filesystem::permissions(folder / "password", std::filesystem::perms(0600));
        keys["user"] = {"cook", {}};
        keys["password-file"] = {(folder / "password").string(), {}};
    }
    return email::make_email(keys, patience);
}

Notice about_the_pot() {
    return {"n1",
            "raised",
            "above-band",
            "stockpot",
            "high",
            "2026-11-26T16:00:00-05:00",
            {},
            false,
            "stockpot is at 192.0 °F, 2.0 °F above its band. It rises.\n.\nturn <the burner> down"};
}

Attempt mail(std::string const& server, std::string const& password = "",
             FreeKeys more = {{"tls", {"no", {}}}}) {
    return mailer(server, password, std::move(more))->deliver(about_the_pot(), {});
}

// A certificate for localhost that signs for itself, and its key.
std::pair<std::string, std::string> certificate() {
    auto const folder = std::filesystem::path(TEST_BUILD) / "unit_notices_tls";
    std::filesystem::create_directories(folder);
    auto const pem = (folder / "server.pem").string(), key = (folder / "server.key").string();
    auto const command =
        "openssl req -x509 -newkey ec -pkeyopt ec_paramgen_curve:prime256v1 -nodes -days 30 -subj "
        "/CN=localhost "
        "-addext subjectAltName=DNS:localhost -keyout " +
        key + " -out " + pem + " 2>/dev/null";
    REQUIRE(std::system(command.c_str()) == 0);
    return {pem, key};
}

}  // namespace

TEST_CASE("a mail arrives whole at a real SMTP server") {
    MailServer server("good");
    auto const attempt = mail(server.url());
    CHECK(attempt.reason.empty());
    REQUIRE(attempt.outcome == Attempt::Outcome::delivered);
    auto const got = nlohmann::json::parse(server.line());
    CHECK(got["from"] == "ingle@hall.example");
    CHECK(got["to"].size() == 2);
    auto const data = got["data"].get<std::string>();
    // python3: "! stockpot is at 192.0 °F, 2.0 °F above its band", what is not ASCII encoded
    CHECK_THAT(data, INGLE_CONTAINS("Subject: =?utf-8?B?ISBzdG9ja3Bv") && INGLE_CONTAINS("Message-ID: <n1@"));
    CHECK_THAT(data, INGLE_CONTAINS("above its band. It rises.\r\n.\r\nturn <the burner> down\r\n"));
    CHECK_THAT(data, INGLE_CONTAINS("<p>turn &lt;the burner&gt; down</p>"));
    CHECK_THAT(data, INGLE_CONTAINS("since 16:00 on 2026-11-26"));
}

TEST_CASE("a login works, and a refused one is told without the password (E8)") {
    MailServer server("login");
    CHECK(mail(server.url(), "right").outcome == Attempt::Outcome::delivered);
    auto const refused = mail(server.url(), "wr0ng-pass");
    CHECK(refused.outcome == Attempt::Outcome::give_up);
    CHECK_THAT(refused.reason, INGLE_CONTAINS("refused user or password"));
    CHECK(refused.reason.find("wr0ng") == std::string::npos);
}

TEST_CASE("encrypted from the start or by STARTTLS, with a login; the certificate is checked") {
    auto const mode = GENERATE("starttls", "tls");
    auto const [pem, key] = certificate();
    MailServer server(std::string(mode) + " " + pem + " " + key);
    auto const url =
        (std::string(mode) == "tls" ? "smtps://localhost:" : "smtp://localhost:") + server.port();
    FreeKeys const trusting{{"tls", {"always", {}}}, {"certificates", {pem, {}}}};
    INFO(mode);
    CHECK(mail(url, "right", trusting).reason.empty());
    CHECK(mailer(url, "right", trusting)->prove({})->reason.empty());
    auto const refused = mailer(url, "wr0ng", trusting)->prove({});
    CHECK(refused->outcome == Attempt::Outcome::give_up);
    CHECK_THAT(refused->reason, INGLE_CONTAINS("refused user or password"));
    auto const stranger = mail(url, "right", {{"tls", {"always", {}}}});
    CHECK(stranger.outcome == Attempt::Outcome::try_again);
    CHECK(stranger.cause == Attempt::Cause::certificate);
}

TEST_CASE("a server that offers no encryption gets nothing where it must be") {
    MailServer server("login");
    auto const attempt = mail(server.url(), "right", {{"tls", {"always", {}}}});
    CHECK(attempt.outcome == Attempt::Outcome::give_up);
    CHECK_THAT(attempt.reason, INGLE_CONTAINS("offers no encryption"));
    auto const tried = mail(server.url(), "right", {});
    CHECK(tried.outcome == Attempt::Outcome::give_up);
    CHECK_THAT(tried.reason, INGLE_CONTAINS("without it no password is sent"));
    CHECK(mail(server.url(), "", {}).outcome == Attempt::Outcome::delivered);
    CHECK(mailer("smtp://127.0.0.1:1")->prove({})->outcome == Attempt::Outcome::try_again);
}

TEST_CASE(
    "one addressee who is refused keeps the mail from nobody else, is named, and alone is tried again") {
    MailServer full("full 552");
    auto mail = mailer(full.url());
    auto const attempt = mail->deliver(about_the_pot(), {});
    CHECK(attempt.outcome == Attempt::Outcome::give_up);
    CHECK_THAT(attempt.reason, INGLE_CONTAINS("refused the mail to waiter@hall.example (552)"));
    CHECK(nlohmann::json::parse(full.line()).at("to") == nlohmann::json{"cook@hall.example"});
    auto again = about_the_pot();
    again.id = "n1~2";  // as a high one that was refused comes again
    CHECK_THAT(mail->deliver(again, {}).reason, INGLE_CONTAINS("waiter@hall.example (552)"));

    MailServer later("full 450");
    auto patient = mailer(later.url());
    auto const first = patient->deliver(about_the_pot(), {});
    CHECK(first.outcome == Attempt::Outcome::try_again);
    CHECK_THAT(first.reason, INGLE_CONTAINS("waiter@hall.example (450)"));
    CHECK(nlohmann::json::parse(later.line()).at("to") == nlohmann::json{"cook@hall.example"});
    CHECK(patient->deliver(about_the_pot(), {}).outcome == Attempt::Outcome::delivered);
    CHECK(nlohmann::json::parse(later.line()).at("to") == nlohmann::json{"waiter@hall.example"});
    auto next = about_the_pot();
    next.id = "n2";
    CHECK(patient->deliver(next, {}).outcome == Attempt::Outcome::delivered);
    CHECK(nlohmann::json::parse(later.line()).at("to").size() == 2);
}

TEST_CASE("a subject is cut wherever its words allow it, and never empty") {
    auto const subject = [](std::string const& text) {
        auto notice = about_the_pot();
        notice.priority = "low";
        notice.text = text;
        auto const mail = email::message(notice, "a@x.example", {"b@x.example"}, {});
        auto const begin = mail.find("Subject: ") + 9;
        return mail.substr(begin, mail.find("\r\nDate:") - begin);
    };
    std::string const address = "https://recipes.example/" + std::string(200, 'a');
    CHECK(subject(address) == address.substr(0, 110));
    CHECK(subject("At 12:47, told late: " + address) == ("At 12:47, told late: " + address).substr(0, 110));
    CHECK(subject(" turn it") == "turn it");
    CHECK(subject("   ") == "stockpot: above-band");
    std::string kana;
    for (int i = 0; i < 60; ++i) kana += "\xE3\x81\x8A";
    CHECK_THAT(subject(kana), !INGLE_CONTAINS("\xE3"));  // as encoded words, whole letters each
}

TEST_CASE("a refused mail is final, a server that is not there is not (E7)") {
    CHECK(mail(MailServer("refuse").url()).outcome == Attempt::Outcome::give_up);
    CHECK(mail("smtp://127.0.0.1:1").outcome == Attempt::Outcome::try_again);
}

TEST_CASE(
    "a server that lets a stranger wait gets its mail, and a wrong password that it thinks over is wrong") {
    auto late_greeting = std::async(std::launch::async, [] {
        MailServer server("slow greeting 6");
        return mail(server.url());
    });
    auto late_mail = std::async(std::launch::async, [] {
        MailServer server("slow mail 12");
        return mail(server.url());
    });
    MailServer server("slow AUTH 6");
    auto const refused = mail(server.url(), "wr0ng-pass");
    CHECK(refused.outcome == Attempt::Outcome::give_up);
    CHECK_THAT(refused.reason, INGLE_CONTAINS("refused user or password (535)"));
    CHECK(late_greeting.get().reason.empty());
    CHECK(late_mail.get().reason.empty());
}

TEST_CASE(
    "a server that hangs is waited for within a bound, and what it owes is named with the time that it took "
    "(E7)") {
    using namespace std::chrono;
    auto const [step, password, missing] = GENERATE(table<std::string, std::string, std::string>(
        {{"greeting", "", "took the connection, but sent no greeting within"},
         {"EHLO", "", "did not answer to our greeting (EHLO) within"},
         {"AUTH", "right", "did not answer to user and password (AUTH) within"},
         {"MAIL", "", "did not answer to the sender (MAIL) within"},
         {"RCPT", "", "did not answer to an addressee (RCPT) within"},
         {"DATA", "", "did not let the mail begin (DATA) within"},
         {"mail", "", "did not say that it has the mail (after DATA) within"}}));
    MailServer server("slow " + step + " 60");
    auto const begin = steady_clock::now();
    auto const attempt =
        mailer(server.url(), password, {{"tls", {"no", {}}}}, {.answer = 1s})->deliver(about_the_pot(), {});
    auto const took = steady_clock::now() - begin;
    INFO(step);
    CHECK(attempt.outcome == Attempt::Outcome::try_again);
    CHECK_THAT(attempt.reason, INGLE_CONTAINS(server.url() + " " + missing));
    CHECK(took >= 1s);
    CHECK(took < 10s);
}

TEST_CASE("who has the mail and hangs at the farewell has the mail; who talks without end has not") {
    using namespace std::chrono;
    auto const begin = steady_clock::now();
    MailServer server("slow QUIT 60");
    CHECK(mail(server.url()).reason.empty());
    MailServer pouring("pour");
    CHECK_THAT(mail(pouring.url()).reason, INGLE_CONTAINS("does not stop talking"));
    CHECK(steady_clock::now() - begin < 20s);
}

TEST_CASE("an attempt under way is broken off on request, wherever it waits") {
    using namespace std::chrono;
    auto const step = GENERATE("greeting", "mail", "QUIT");
    MailServer server("slow " + std::string(step) + " 60");
    std::stop_source stop;
    auto const mail = mailer(server.url());
    auto attempt =
        std::async(std::launch::async, [&] { return mail->deliver(about_the_pot(), stop.get_token()); });
    std::this_thread::sleep_for(500ms);
    auto const begin = steady_clock::now();
    stop.request_stop();
    attempt.get();
    INFO(step);
    CHECK(steady_clock::now() - begin < 4s);
}

TEST_CASE("how long a mail server is waited for") {
    using namespace std::chrono;
    email::Talk::Moment const begin{};
    email::Patience const patience;
    CHECK(patience.answer >= 30s);
    email::Talk mute(patience, false, begin);
    CHECK_FALSE(mute.over(begin + 9s));
    CHECK(mute.over(begin + 10s));
    CHECK(mute.verdict() == "took no connection within 10 s");

    email::Talk secure(patience, true, begin);
    secure.connected(begin + 1s);
    CHECK_FALSE(secure.over(begin + 30s));
    CHECK(secure.so_far(begin + 13s) == "did not begin to encrypt so far (12 s)");
    CHECK(secure.over(begin + 31s));
    CHECK(secure.verdict() == "did not begin to encrypt within 30 s");

    email::Talk each_slow(patience, false, begin);
    each_slow.connected(begin);
    each_slow.sent("EHLO hall\r\n", begin + 20s);
    each_slow.sent("AUTH LOGIN\r\n", begin + 40s);
    each_slow.sent("Y29vaw==\r\n", begin + 41s);
    CHECK_FALSE(each_slow.over(begin + 59s));
    CHECK(each_slow.over(begin + 60s));
    CHECK(each_slow.verdict() ==
          "was not through within 60 s; at last it did not answer to user and password (AUTH) within 19 s");
    CHECK(each_slow.over(begin + 61s));
}

TEST_CASE("the text of a mail: nothing in a notice can add a header, the date is independent of the locale") {
    using namespace std::chrono;
    Notice notice{"n", "raised", "above-band", "töpf", "low", {}, {}, true, "töpf: a\r\nBcc: x@y"};
    auto const at = sys_days(2026y / 11 / 26) + 22h + 5min;
    auto const text = email::message(notice, "a@b", {"c@d"}, at);
    auto const head = text.substr(0, text.find("\r\n\r\n"));
    CHECK(head.find("\nBcc:") == std::string::npos);
    CHECK_THAT(text, INGLE_CONTAINS("Date: Thu, 26 Nov 2026 22:05:00 +0000\r\n"));
    // python3: base64.b64encode("töpf: a ".encode())
    CHECK_THAT(text, INGLE_CONTAINS("Subject: =?utf-8?B?dMO2cGY6IGEg?=\r\n"));
    CHECK_THAT(text, INGLE_CONTAINS("is late"));
}
