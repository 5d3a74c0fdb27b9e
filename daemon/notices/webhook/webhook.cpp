// Posts a notice as JSON to an address of the cook's choice.
#include "daemon/notices/notifier.hpp"
#include "daemon/notices/transfer.hpp"
#include "drivers/api/secret.hpp"

namespace ingle::webhook {
namespace {

constexpr OptionInfo options[] = {
    {"url", OptionKind::text, true, "", {}, 0, 0, "where to post, http:// or https://"},
    {"token-file",
     OptionKind::secret_file,
     false,
     "",
     {},
     0,
     0,
     "file of what is sent as Authorization: Bearer"},
    {"token-env", OptionKind::variable, false, "", {}, 0, 0, "the same, in an environment variable"},
    {"certificates",
     OptionKind::file,
     false,
     "",
     {},
     0,
     0,
     "for a server of your own: the file (PEM) of the certificates to trust in place of the system's"},
};

class Webhook : public Notifier {
public:
    Webhook(std::string url, SecretPlace token, std::string certificates)
        : url_(std::move(url)), token_(std::move(token)), certificates_(std::move(certificates)) {}

    Attempt deliver(Notice const& notice, std::stop_token stop) override {
        auto const body = to_json(notice);
        Transfer transfer(url_, stop);
        if (!certificates_.empty()) transfer.set(CURLOPT_CAINFO, certificates_.c_str());
        transfer.set(CURLOPT_POSTFIELDSIZE, static_cast<long>(body.size()));
        transfer.set(CURLOPT_POSTFIELDS, body.c_str());
        transfer.add_line(CURLOPT_HTTPHEADER, "Content-Type: application/json");
        transfer.add_line(CURLOPT_HTTPHEADER, "Idempotency-Key: " + notice.id);
        transfer.add_line(CURLOPT_HTTPHEADER, "Expect:");
        // Read each time, so that a new token counts without a restart.
        auto const token = read_secret(token_);
        if (!token.wrong.empty()) return Attempt::give_up("the token: " + token.wrong);
        if (!token.text.empty()) transfer.add_line(CURLOPT_HTTPHEADER, "Authorization: Bearer " + token.text);
        if (auto const code = transfer.perform(); code != CURLE_OK)
            return Attempt::try_again(transfer.reason(code));
        auto const status = transfer.status();
        auto const said = redacted(url_) + " answered " + std::to_string(status);
        if (status >= 200 && status < 300) return Attempt::delivered();
        // Too early, too many, too slow: the address is right and the moment is not.
        if (status >= 500 || status == 408 || status == 425 || status == 429)
            return Attempt::try_again(said, transfer.retry_after());
        return Attempt::give_up(said + ": check url and token");
    }

private:
    std::string url_;
    SecretPlace token_;
    std::string certificates_;
};

std::unique_ptr<Notifier> make(FreeKeys const& keys, std::filesystem::path const&) {
    auto url = text_of(keys, "url");
    refuse_unusable_url("url", url, {"http://", "https://"});
    return std::make_unique<Webhook>(std::move(url),
                                     SecretPlace{text_of(keys, "token-file"), text_of(keys, "token-env")},
                                     text_of(keys, "certificates"));
}

}  // namespace

extern NotifierInfo const info;
NotifierInfo const info{"webhook", "JSON to an address (HTTP POST)", options, &make};

}  // namespace ingle::webhook
