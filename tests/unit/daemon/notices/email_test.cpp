#include <signal.h>
#include <stdio.h>

#include <filesystem>
#include <fstream>

#include <nlohmann/json.hpp>

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

private:
    FILE* pipe_;
    std::string port_;
    pid_t pid_;
};

Attempt mail(std::string const& server, std::string const& password = "") {
    auto const folder = std::filesystem::path(TEST_BUILD) / "unit_notices_mail";
    std::filesystem::create_directories(folder);
    FreeKeys keys{{"server", {server, {}}},
                  {"from", {"ingle@hall.example", {}}},
                  {"to", {std::vector<std::string>{"cook@hall.example", "waiter@hall.example"}, {}}},
                  {"tls", {"no", {}}}};
    if (!password.empty()) {
        std::ofstream(folder / "password") << password << "\n";
        std::filesystem::permissions(folder / "password", std::filesystem::perms(0600));
        keys["user"] = {"cook", {}};
        keys["password-file"] = {(folder / "password").string(), {}};
    }
    Notice const notice{"n1",       "raised", "above-band",
                        "stockpot", "high",   "2026-11-26T16:00:00-05:00",
                        {},         false,    "stockpot 192.0 °F, above the band\n.\nturn the burner down"};
    return find_notifier("email")->make(keys, folder)->deliver(notice, {});
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
    CHECK_THAT(data,
               INGLE_CONTAINS("Subject: ! stockpot: above-band\r\n") && INGLE_CONTAINS("Message-ID: <n1@"));
    CHECK_THAT(data, INGLE_CONTAINS("192.0 °F, above the band\r\n.\r\nturn the burner down\r\n"));
}

TEST_CASE("a login works, and a refused one is told without the password (E8)") {
    MailServer server("login");
    CHECK(mail(server.url(), "right").outcome == Attempt::Outcome::delivered);
    auto const refused = mail(server.url(), "wr0ng-pass");
    CHECK(refused.outcome == Attempt::Outcome::give_up);
    CHECK_THAT(refused.reason, INGLE_CONTAINS("refused user or password"));
    CHECK(refused.reason.find("wr0ng") == std::string::npos);
}

TEST_CASE("a refused mail is final, a mute server is not and costs 10 s (E7)") {
    CHECK(mail(MailServer("refuse").url()).outcome == Attempt::Outcome::give_up);
    MailServer server("mute");
    auto const begin = std::chrono::steady_clock::now();
    auto const attempt = mail(server.url());
    CHECK(attempt.outcome == Attempt::Outcome::try_again);
    CHECK(std::chrono::steady_clock::now() - begin < std::chrono::seconds(12));
    CHECK_THAT(attempt.reason, INGLE_CONTAINS("did not answer within 10 s"));
    CHECK(mail("smtp://127.0.0.1:1").outcome == Attempt::Outcome::try_again);
}

TEST_CASE("the text of a mail: nothing in a notice can add a header, the date is independent of the locale") {
    using namespace std::chrono;
    Notice notice{"n", "raised", "a\r\nBcc: x@y", "töpf", "low", {}, {}, true, "text"};
    auto const at = sys_days(2026y / 11 / 26) + 22h + 5min;
    auto const text = email::message(notice, "a@b", {"c@d"}, at);
    CHECK(text.find("\nBcc:") == std::string::npos);
    CHECK_THAT(text, INGLE_CONTAINS("Date: Thu, 26 Nov 2026 22:05:00 +0000\r\n"));
    // python3: base64.b64encode("töpf: a  Bcc: x@y".encode())
    CHECK_THAT(text, INGLE_CONTAINS("Subject: =?utf-8?B?dMO2cGY6IGEgIEJjYzogeEB5?=\r\n"));
    CHECK_THAT(text, INGLE_CONTAINS("is late"));
}
