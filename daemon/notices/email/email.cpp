// Sends a notice as a mail through an SMTP server.
#include <fstream>
#include <stdexcept>

#include "daemon/notices/email/message.hpp"
#include "daemon/notices/notifier.hpp"
#include "daemon/notices/transfer.hpp"

namespace ingle::email {
namespace {

constexpr std::string_view tls_words[] = {"no", "try", "always"};
constexpr OptionInfo options[] = {
    {"server", OptionKind::text, true, "", {}, 0, 0, "smtp://host:port, or smtps://host:port"},
    {"from", OptionKind::text, true, "", {}, 0, 0, "the sender's address"},
    {"to", OptionKind::text, true, "", {}, 0, 0, "one address, or a list of them"},
    {"user", OptionKind::text, false, "", {}, 0, 0, "for servers that want a login"},
    {"password-file", OptionKind::text, false, "", {}, 0, 0, "a file that holds only the password"},
    {"tls", OptionKind::text, false, "try", tls_words, 0, 0, "whether to encrypt: no, try, always"},
};

std::string first_line(std::string const& file) {
    std::ifstream in(file);
    std::string line;
    if (!std::getline(in, line)) throw std::runtime_error("cannot read the password file " + file);
    return line;
}

struct Account {
    std::string server, from, user, password_file, tls;
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

class Email : public Notifier {
public:
    explicit Email(Account account) : account_(std::move(account)) {}

    Attempt deliver(Notice const& notice, std::stop_token stop) override {
        auto const text = message(notice, account_.from, account_.to, std::chrono::system_clock::now());
        Upload upload{text};
        Transfer transfer(account_.server, stop);
        transfer.set(CURLOPT_MAIL_FROM, account_.from.c_str());
        for (auto const& to : account_.to) transfer.add_line(CURLOPT_MAIL_RCPT, to);
        transfer.set(CURLOPT_UPLOAD, 1L);
        transfer.set(CURLOPT_READFUNCTION, &Upload::read);
        transfer.set(CURLOPT_READDATA, &upload);
        transfer.set(CURLOPT_USE_SSL, static_cast<long>(account_.tls == "always" ? CURLUSESSL_ALL
                                                        : account_.tls == "try"  ? CURLUSESSL_TRY
                                                                                 : CURLUSESSL_NONE));
        if (!account_.user.empty()) {
            // Read each time, so that a new password counts without a restart.
            try {
                transfer.set(CURLOPT_PASSWORD, first_line(account_.password_file).c_str());
            } catch (std::runtime_error const& error) {
                return Attempt::give_up(error.what());
            }
            transfer.set(CURLOPT_USERNAME, account_.user.c_str());
        }
        auto const code = transfer.perform();
        if (code == CURLE_OK) return Attempt::delivered();
        auto const status = transfer.status();
        auto said = redacted(account_.server);
        if (code == CURLE_LOGIN_DENIED || status == 535 || status == 534 || status == 530)
            return Attempt::give_up(said + " refused user or password (" + std::to_string(status) + ")");
        if (status >= 500 && status < 600)
            return Attempt::give_up(said + " refused the mail (" + std::to_string(status) + ")");
        return Attempt::try_again(transfer.reason(code));
    }

private:
    Account account_;
};

std::unique_ptr<Notifier> make(FreeKeys const& keys, std::filesystem::path const& state) {
    Account account{text_of(keys, "server"),        text_of(keys, "from"),       text_of(keys, "user"),
                    text_of(keys, "password-file"), text_of(keys, "tls", "try"), texts_of(keys, "to")};
    if (!account.server.starts_with("smtp://") && !account.server.starts_with("smtps://"))
        throw std::runtime_error("server must begin with smtp:// or smtps://");
    if (account.to.empty()) throw std::runtime_error("to names nobody");
    if (!account.user.empty()) {
        account.password_file = (state / account.password_file).string();
        first_line(account.password_file);  // unreadable now: say so before it is needed
    }
    return std::make_unique<Email>(std::move(account));
}

}  // namespace

extern NotifierInfo const info;
NotifierInfo const info{"email", "a mail through an SMTP server", options, &make};

}  // namespace ingle::email
