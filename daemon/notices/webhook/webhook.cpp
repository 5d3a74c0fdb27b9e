// Posts a notice as JSON to an address of the cook's choice.
#include <algorithm>
#include <cctype>

#include "daemon/notices/links.hpp"
#include "daemon/notices/notifier.hpp"
#include "daemon/notices/sha256.hpp"
#include "daemon/notices/transfer.hpp"
#include "daemon/notices/webhook/body_template.hpp"
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
     OptionKind::certificate_file,
     false,
     "",
     {},
     0,
     0,
     "for a server of your own: the file (PEM) of the certificates to trust in place of the system's"},
    {"signing-key-file",
     OptionKind::secret_file,
     false,
     "",
     {},
     0,
     0,
     "file of a key: the header Ingle-Signature is sha256= and the HMAC of the body with it"},
    {"signing-key-env", OptionKind::variable, false, "", {}, 0, 0, "the same, in an environment variable"},
    {"body",
     OptionKind::text,
     false,
     "",
     {},
     0,
     0,
     "what is posted in place of Ingle's own JSON; {text}, {subject}, {priority} and so on are filled in"},
    {"content-type", OptionKind::text, false, "application/json", {}, 0, 0, "of the body"},
    {"headers", OptionKind::text, false, "", {}, 0, 0, "lines like \"Title: {subject}\", one or a list"},
    links_option,
};

struct Request {
    std::string url, certificates;
    SecretPlace token, signing_key;
    std::string body, content_type;  // body "": Ingle's own
    std::vector<std::string> headers;

    // The token has its place in a header or the body, and goes nowhere else.
    bool places_token() const {
        return names_token(body) ||
               std::ranges::any_of(headers, [](auto const& each) { return names_token(each); });
    }
};

class Webhook : public Notifier {
public:
    explicit Webhook(Request request) : request_(std::move(request)) {}

    Attempt deliver(Notice const& notice, std::stop_token stop) override {
        // Read each time, so that a new secret counts without a restart.
        auto const token = read_secret(request_.token), key = read_secret(request_.signing_key);
        if (auto const wrong = wrong_secret(token, key)) return *wrong;
        bool const json = request_.content_type.starts_with("application/json");
        auto const body = request_.body.empty() ? to_json(notice)
                                                : fill(request_.body, notice, token.text,
                                                       json ? Escaping::json : Escaping::none);
        auto transfer = connection(stop);
        transfer->set(CURLOPT_POSTFIELDSIZE, static_cast<long>(body.size()));
        transfer->set(CURLOPT_POSTFIELDS, body.c_str());
        auto const header = [&](std::string const& line) { transfer->add_line(CURLOPT_HTTPHEADER, line); };
        header("Content-Type: " + request_.content_type);
        header("Idempotency-Key: " + notice.id);
        header("Expect:");
        for (auto const& line : request_.headers) header(fill(line, notice, token.text, Escaping::header));
        if (!token.text.empty() && !request_.places_token()) header("Authorization: Bearer " + token.text);
        if (!key.text.empty()) header("Ingle-Signature: sha256=" + hmac_sha256_hex(key.text, body));
        if (auto const code = transfer->perform(); code != CURLE_OK) return transfer->failure(code);
        auto const status = transfer->status();
        auto const said = redacted(request_.url) + " answered " + std::to_string(status);
        if (status >= 200 && status < 300) return Attempt::delivered();
        // Too early, too many, too slow: the address is right and the moment is not.
        if (status >= 500 || status == 408 || status == 425 || status == 429)
            return Attempt::try_again(said, transfer->retry_after());
        return Attempt::give_up(said + ": check url and token");
    }

    // Up to the first byte of a request: the name, the port and the certificate.
    std::optional<Attempt> prove(std::stop_token stop) override {
        if (auto wrong = wrong_secret(read_secret(request_.token), read_secret(request_.signing_key)))
            return wrong;
        auto transfer = connection(std::move(stop));
        transfer->set(CURLOPT_CONNECT_ONLY, 1L);
        auto const code = transfer->perform();
        return code == CURLE_OK ? Attempt::delivered() : transfer->failure(code);
    }

private:
    static std::optional<Attempt> wrong_secret(Secret const& token, Secret const& key) {
        if (!token.wrong.empty()) return Attempt::give_up("the token: " + token.wrong);
        if (!key.wrong.empty()) return Attempt::give_up("the signing key: " + key.wrong);
        return std::nullopt;
    }
    std::unique_ptr<Transfer> connection(std::stop_token stop) const {
        auto transfer = std::make_unique<Transfer>(request_.url, std::move(stop));
        if (!request_.certificates.empty()) transfer->set(CURLOPT_CAINFO, request_.certificates.c_str());
        return transfer;
    }

    Request request_;
};

void refuse_unknown_places(std::string const& key, std::string const& text) {
    if (auto const unknown = unknown_place(text); !unknown.empty())
        throw WrongOption(key, "holds " + unknown + ", which a notice has not", "use " + known_places());
}

void refuse_unusable_header(std::string const& line) {
    auto const colon = line.find(':');
    auto const name = line.substr(0, colon);
    auto const usable = [](char c) {
        return std::isalnum(static_cast<unsigned char>(c)) != 0 || c == '-' || c == '_';
    };
    auto const control = [](char c) { return static_cast<unsigned char>(c) < ' ' || c == 0x7f; };
    if (colon == std::string::npos || name.empty() || !std::ranges::all_of(name, usable) ||
        std::ranges::any_of(line, control))
        throw WrongOption("headers", "holds what is no header", "lines like \"Title: {subject}\"");
    refuse_unknown_places("headers", line);
}

std::unique_ptr<Notifier> make(FreeKeys const& keys, std::filesystem::path const&) {
    link_base(text_of(keys, "links"));
    Request request{text_of(keys, "url"),
                    text_of(keys, "certificates"),
                    {text_of(keys, "token-file"), text_of(keys, "token-env")},
                    {text_of(keys, "signing-key-file"), text_of(keys, "signing-key-env")},
                    text_of(keys, "body"),
                    text_of(keys, "content-type", "application/json"),
                    texts_of(keys, "headers")};
    refuse_unusable_url("url", request.url, {"http://", "https://"});
    refuse_unknown_places("body", request.body);
    for (auto const& line : request.headers) refuse_unusable_header(line);
    refuse_unusable_header("Content-Type: " + request.content_type);
    if (request.places_token() && !request.token.named())
        throw WrongOption("token-file", "is missing: {token} stands in the body or a header",
                          "a file that holds it");
    return std::make_unique<Webhook>(std::move(request));
}

}  // namespace

extern NotifierInfo const info;
NotifierInfo const info{"webhook", "JSON to an address (HTTP POST)", options, &make};

}  // namespace ingle::webhook
