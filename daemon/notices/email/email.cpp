// Sends a notice as a mail through an SMTP server.
#include "daemon/notices/email/email.hpp"

#include <algorithm>
#include <map>
#include <mutex>
#include <optional>
#include <utility>
#include <vector>

#include "daemon/notices/email/message.hpp"
#include "daemon/notices/links.hpp"
#include "daemon/notices/notifier.hpp"
#include "daemon/notices/transfer.hpp"
#include "drivers/api/secret.hpp"

namespace ingle::email {
namespace {

constexpr std::string_view tls_words[] = {"no", "try", "always"};
constexpr OptionInfo options[] = {
    {"server", OptionKind::text, true, "", {}, 0, 0, "smtp://host:port, or smtps://host:port"},
    {"from", OptionKind::text, true, "", {}, 0, 0, "the sender's address"},
    {"to", OptionKind::text, true, "", {}, 0, 0, "one address, or a list of them"},
    {"user", OptionKind::text, false, "", {}, 0, 0, "for servers that want a login"},
    {"password-file", OptionKind::secret_file, false, "", {}, 0, 0, "a file that holds only the password"},
    {"password-env", OptionKind::variable, false, "", {}, 0, 0, "the same, in an environment variable"},
    {"tls", OptionKind::text, false, "try", tls_words, 0, 0,
     "whether to encrypt; where there is a login, try means always, and only no sends a password in the "
     "open"},
    {"certificates",
     OptionKind::certificate_file,
     false,
     "",
     {},
     0,
     0,
     "for a server of your own: the file (PEM) of the certificates to trust in place of the system's"},
    links_option,
};

constexpr long beyond_our_patience_s = 3600;
constexpr std::size_t most_without = 200;  // notices

struct Account {
    std::string server, from, user, tls, certificates;
    SecretPlace password;
    std::vector<std::string> to;
};

struct Upload {
    std::string_view rest;
    static std::size_t read(char* buffer, std::size_t size, std::size_t count, void* self) {
        auto& rest = static_cast<Upload*>(self)->rest;
        auto const part = rest.substr(0, size * count);
        part.copy(buffer, part.size());
        rest.remove_prefix(part.size());
        return part.size();
    }
};

// The talk under way, for the thread that has it and for one that asks how far it is.
struct Line {
    mutable std::mutex mutex;
    std::optional<Talk> talk;
};

// Tells the talk what goes over the line; curl tells the words, too, and they are kept nowhere.
int overhear(CURL*, curl_infotype what, char* bytes, std::size_t size, void* line) {
    auto& own = *static_cast<Line*>(line);
    auto const now = std::chrono::steady_clock::now();
    std::lock_guard const lock(own.mutex);
    if (what == CURLINFO_HEADER_OUT) own.talk->sent({bytes, size}, now);
    if (what == CURLINFO_DATA_OUT) own.talk->sent_mail(now);
    if (what == CURLINFO_HEADER_IN) own.talk->heard({bytes, size});
    return 0;
}

class Email : public Notifier {
public:
    Email(Account account, Patience const& patience) : account_(std::move(account)), patience_(patience) {}

    // Who has it is not sent it again for the others' sake.
    Attempt deliver(Notice const& notice, std::stop_token stop) override {
        auto const whose = notice.id.substr(0, notice.id.find('~'));
        auto const rest = without_it_.find(whose);
        auto const addressees = rest == without_it_.end() ? account_.to : rest->second;
        return who_is_left(whose, addressees.size(), send(notice, addressees, std::move(stop)));
    }

    bool wants_chart() const override { return true; }

    std::string so_far() const override {
        std::lock_guard const lock(line_.mutex);
        return line_.talk
                   ? redacted(account_.server) + ' ' + line_.talk->so_far(std::chrono::steady_clock::now())
                   : std::string();
    }

    // Connects, encrypts, logs in and leaves.
    std::optional<Attempt> prove(std::stop_token stop) override {
        Transfer transfer(account_.server, stop);
        transfer.set(CURLOPT_CUSTOMREQUEST, "NOOP");
        return converse(transfer, "a mere visit");
    }

private:
    Attempt send(Notice const& notice, std::vector<std::string> const& addressees, std::stop_token stop) {
        auto const text = message(notice, account_.from, account_.to, std::chrono::system_clock::now());
        Upload upload{text};
        Transfer transfer(account_.server, std::move(stop));
        transfer.set(CURLOPT_MAIL_FROM, account_.from.c_str());
        for (auto const& to : addressees) transfer.add_line(CURLOPT_MAIL_RCPT, to);
        transfer.set(CURLOPT_MAIL_RCPT_ALLLOWFAILS, 1L);
        transfer.set(CURLOPT_UPLOAD, 1L);
        transfer.set(CURLOPT_READFUNCTION, &Upload::read);
        transfer.set(CURLOPT_READDATA, &upload);
        return converse(transfer, "the mail");
    }

    // Of that many addressees, after an attempt; and what the attempt came to for them all.
    Attempt who_is_left(std::string const& whose, std::size_t addressees, Attempt attempt) {
        bool const nobody = refused_.size() == addressees;
        bool const delivered = attempt.outcome == Attempt::Outcome::delivered;
        if (refused_.empty() || (!delivered && !nobody)) {
            if (delivered) without_it_.erase(whose);
            return attempt;
        }
        auto& left = without_it_[whose];
        left.clear();
        std::string who;
        bool for_good = true;
        for (auto const& [address, code] : refused_) {
            left.push_back(address);
            who += (who.empty() ? "" : ", ") + address + " (" + std::to_string(code) + ")";
            for_good = for_good && code >= 500;
        }
        while (without_it_.size() > most_without) without_it_.erase(without_it_.begin());
        auto const reason = redacted(account_.server) + " refused the mail to " + who +
                            (nobody ? "" : "; the others on the list have it");
        return for_good ? Attempt::give_up(reason) : Attempt::try_again(reason);
    }

    Attempt converse(Transfer& transfer, std::string const& what) {
        // Who can make a server seem to offer no encryption would else be sent the password.
        bool const must = account_.tls == "always" || (account_.tls == "try" && !account_.user.empty());
        transfer.set(CURLOPT_USE_SSL, static_cast<long>(must                    ? CURLUSESSL_ALL
                                                        : account_.tls == "try" ? CURLUSESSL_TRY
                                                                                : CURLUSESSL_NONE));
        if (!account_.certificates.empty()) transfer.set(CURLOPT_CAINFO, account_.certificates.c_str());
        // Read each time, so that a new password counts without a restart.
        auto const password = account_.user.empty() ? Secret{} : read_secret(account_.password);
        if (!password.wrong.empty()) return Attempt::give_up("the password: " + password.wrong);
        if (!account_.user.empty()) {
            transfer.set(CURLOPT_PASSWORD, password.text.c_str());
            transfer.set(CURLOPT_USERNAME, account_.user.c_str());
        }
        auto const said = redacted(account_.server);
        auto const [code, verdict] = perform(transfer);
        if (code == CURLE_OK) return Attempt::delivered();
        if (!verdict.empty()) return Attempt::try_again(said + ' ' + verdict);
        auto attempt = transfer.failure(code);
        if (attempt.cause == Attempt::Cause::certificate) return attempt;
        auto const status = transfer.status();
        if (code == CURLE_LOGIN_DENIED || status == 535 || status == 534 || status == 530)
            return Attempt::give_up(said + " refused user or password (" + std::to_string(status) + ")");
        if (code == CURLE_USE_SSL_FAILED)
            return Attempt::give_up(
                said + " offers no encryption, and " +
                (account_.tls == "always" ? "tls = \"always\" wants it" : "without it no password is sent"));
        if (status >= 500 && status < 600)
            return Attempt::give_up(said + " refused " + what + " (" + std::to_string(status) + ")");
        if (status >= 400 && status < 500)
            return Attempt::try_again(said + " refused " + what + " for now (" + std::to_string(status) +
                                      ")");
        return attempt;
    }

    // The bounds are the talk's; curl's own would end a greeting that takes its time.
    std::pair<CURLcode, std::string> perform(Transfer& transfer) {
        {
            std::lock_guard const lock(line_.mutex);
            line_.talk.emplace(patience_, account_.server.starts_with("smtps:"),
                               std::chrono::steady_clock::now());
        }
        transfer.set(CURLOPT_TIMEOUT, 0L);
        transfer.set(CURLOPT_CONNECTTIMEOUT, beyond_our_patience_s);
        transfer.set(CURLOPT_SERVER_RESPONSE_TIMEOUT, beyond_our_patience_s);
        transfer.set(CURLOPT_FORBID_REUSE, 1L);  // the farewell belongs to it, and is bounded with it
        transfer.set(CURLOPT_VERBOSE, 1L);
        transfer.set(CURLOPT_DEBUGFUNCTION, &overhear);
        transfer.set(CURLOPT_DEBUGDATA, &line_);
        transfer.break_off_when([&] {
            auto const now = std::chrono::steady_clock::now();
            std::lock_guard const lock(line_.mutex);
            if (transfer.connected()) line_.talk->connected(now);
            if (transfer.encrypted()) line_.talk->encrypted(now);
            return line_.talk->over(now);
        });
        auto const code = transfer.perform();
        transfer.set(CURLOPT_VERBOSE, 0L);  // nor of what it does at its end
        transfer.break_off_when({});
        std::lock_guard const lock(line_.mutex);
        auto verdict = line_.talk->verdict();
        refused_ = line_.talk->refused();
        line_.talk.reset();
        return {code, std::move(verdict)};
    }

    Line line_;
    Account account_;
    Patience patience_;
    std::vector<Talk::Refused> refused_;                               // of the newest attempt
    std::map<std::string, std::vector<std::string>> without_it_ = {};  // by the notice: who has not got it
};

// What stands in the envelope of a mail (RFC 5321) goes to the server as one line.
void refuse_unusable_address(std::string const& key, std::string const& address) {
    auto const unusable = [](char c) {
        return static_cast<unsigned char>(c) <= ' ' || c == 0x7f || c == '<' || c == '>' || c == ',';
    };
    if (std::ranges::any_of(address, unusable) || std::ranges::count(address, '@') != 1 ||
        address.starts_with('@') || address.ends_with('@'))
        throw WrongOption(key, "holds what is no mail address", "cook@village.example");
}

std::unique_ptr<Notifier> make(FreeKeys const& keys, std::filesystem::path const&) {
    return make_email(keys, Patience{});
}

}  // namespace

std::unique_ptr<Notifier> make_email(FreeKeys const& keys, Patience const& patience) {
    link_base(text_of(keys, "links"));
    Account account{
        text_of(keys, "server"),       text_of(keys, "from"),
        text_of(keys, "user"),         text_of(keys, "tls", "try"),
        text_of(keys, "certificates"), {text_of(keys, "password-file"), text_of(keys, "password-env")},
        texts_of(keys, "to")};
    refuse_unusable_url("server", account.server, {"smtp://", "smtps://"});
    refuse_unusable_address("from", account.from);
    if (account.to.empty()) throw WrongOption("to", "names nobody", "one address, or a list of them");
    for (auto const& to : account.to) refuse_unusable_address("to", to);
    if (account.user.empty() == account.password.named())
        throw WrongOption(account.user.empty() ? "user" : "password-file",
                          "is missing: a login is a user and a password", "give both, or neither");
    return std::make_unique<Email>(std::move(account), patience);
}

extern NotifierInfo const info;
NotifierInfo const info{"email", "a mail through an SMTP server", options, &make};

}  // namespace ingle::email
