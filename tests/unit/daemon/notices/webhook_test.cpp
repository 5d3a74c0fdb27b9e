// What a webhook posts: its own JSON, or a body and headers of the cook's choice, signed.
#include "daemon/notices/notifier.hpp"

#include <filesystem>
#include <fstream>

#include <nlohmann/json.hpp>

#include "daemon/notices/sha256.hpp"
#include "daemon/notices/webhook/body_template.hpp"
#include "tests/support/catch.hpp"
#include "tests/unit/daemon/notices/support.hpp"

using namespace ingle;
using namespace ingle::webhook;

namespace {

std::string secret(std::string const& name, std::string const& text) {
    auto const file = std::filesystem::path(TEST_BUILD) / ("unit_notices_" + name);
    std::ofstream(file) << text << "\n";
    std::filesystem::permissions(file, std::filesystem::perms(0600));
    return file.string();
}

Notice about_the_pot() {
    return {
        "n1", "raised", "above-band", "stockpot", "high", {}, {}, false, "stockpot \"hot\"\nturn it down"};
}

std::string posted(FreeKeys keys) {
    HttpReceiver receiver({});
    keys["url"] = {receiver.url(), {}};
    auto const attempt = find_notifier("webhook")->make(keys, {})->deliver(about_the_pot(), {});
    CHECK(attempt.outcome == Attempt::Outcome::delivered);
    return receiver.requests().at(0);
}

}  // namespace

// FIPS 180-4's examples and RFC 4231, test cases 1, 2 and 6 (a key longer than a block).
TEST_CASE("the digest and the code are the published ones") {
    CHECK(sha256_hex("abc") == "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad");
    CHECK(sha256_hex("abcdbcdecdefdefgefghfghighijhijkijkljklmklmnlmnomnopnopq") ==
          "248d6a61d20638b8e5c026930c3e6039a33ce45964ff2167f6ecedd419db06c1");
    CHECK(hmac_sha256_hex(std::string(20, '\x0b'), "Hi There") ==
          "b0344c61d8db38535ca8afceaf0bf12b881dc200c9833da726e9376c2e32cff7");
    CHECK(hmac_sha256_hex("Jefe", "what do ya want for nothing?") ==
          "5bdcc146bf60754e6a042426089575c75a003f089d2739839dec58b964ec3843");
    CHECK(
        hmac_sha256_hex(std::string(131, '\xaa'), "Test Using Larger Than Block-Size Key - Hash Key First") ==
        "60e431591ee0b67f0d8a26aacbf5b77f8e0bc6213728c5140546040f0ee37f54");
}

TEST_CASE("a signed body, checked as the receiver would") {
    auto const request = posted({{"signing-key-file", {secret("signing", "sesame"), {}}}});
    auto const body = request.substr(request.find("\r\n\r\n") + 4);
    CHECK_THAT(request,
               INGLE_CONTAINS("Ingle-Signature: sha256=" + hmac_sha256_hex("sesame", body) + "\r\n"));
    CHECK(nlohmann::json::parse(body)["id"] == "n1");
    CHECK(request.find("sesame") == std::string::npos);
}

TEST_CASE("a body and headers of one's own: values are escaped, the token goes where it is placed") {
    auto const request =
        posted({{"token-file", {secret("own_token", "s3cret"), {}}},
                {"body", {R"({"message": "{text}", "about": {"of": "{subject}"}})", {}}},
                {"headers", {std::vector<std::string>{"Title: {text}", "Key: {token}"}, {}}}});
    auto const body = nlohmann::json::parse(request.substr(request.find("\r\n\r\n") + 4));
    CHECK(body["message"] == "stockpot \"hot\"\nturn it down");
    CHECK(body["about"]["of"] == "stockpot");
    CHECK_THAT(request, INGLE_CONTAINS("Title: stockpot \"hot\" turn it down\r\n"));
    CHECK_THAT(request, INGLE_CONTAINS("Key: s3cret\r\n"));
    CHECK(request.find("Authorization") == std::string::npos);
    auto const plain = posted({{"body", {std::string("{priority} {text}"), {}}},
                               {"content-type", {std::string("text/plain"), {}}}});
    CHECK_THAT(plain, INGLE_CONTAINS("\r\n\r\nhigh stockpot \"hot\"\nturn it down"));
    CHECK_THAT(plain, INGLE_CONTAINS("Content-Type: text/plain\r\n"));
}

TEST_CASE("a template that cannot be filled is refused") {
    auto const with = [](char const* key, FreeValue value) {
        return find_notifier("webhook")->make(
            {{"url", {std::string("http://127.0.0.1:1/"), {}}}, {key, std::move(value)}}, {});
    };
    CHECK_THROWS_WITH(with("body", {std::string("{txt}"), {}}), "holds {txt}, which a notice has not");
    CHECK_THROWS_WITH(with("headers", {std::string("no colon"), {}}), "holds what is no header");
    CHECK_THROWS_WITH(with("headers", {std::string("Key: {token}"), {}}),
                      "is missing: {token} stands in the body or a header");
    CHECK_NOTHROW(with("body", {std::string("{\"a\": {}, \"b\": { text }}"), {}}));
}
