#include "daemon/notices/transfer.hpp"

#include <algorithm>
#include <chrono>

#include "config/civil_time/iso_time.hpp"
#include "drivers/api/options.hpp"

namespace ingle {
namespace {

constexpr long connect_limit_s = 5;
constexpr int longest_look_ms = 1000;

bool has_happened(CURL* handle, CURLINFO when) {
    curl_off_t after = 0;
    return curl_easy_getinfo(handle, when, &after) == CURLE_OK && after > 0;
}

std::size_t ignore(char*, std::size_t size, std::size_t count, void*) {
    return size * count;
}

}  // namespace

Transfer::Transfer(std::string const& url, std::stop_token stop)
    : handle_(curl_easy_init()), url_(url), stop_(std::move(stop)) {
    set(CURLOPT_URL, url_.c_str());
    set(CURLOPT_NOSIGNAL, 1L);
    set(CURLOPT_ERRORBUFFER, error_);
    set(CURLOPT_TIMEOUT, static_cast<long>(attempt_limit.count()));
    set(CURLOPT_CONNECTTIMEOUT, connect_limit_s);
    set(CURLOPT_NOPROGRESS, 0L);
    set(CURLOPT_XFERINFOFUNCTION, &look);
    set(CURLOPT_XFERINFODATA, this);
    set(CURLOPT_WRITEFUNCTION, &ignore);
    set(CURLOPT_NOPROXY, "localhost,127.0.0.1,::1");
}

Transfer::~Transfer() {
    curl_easy_cleanup(handle_);
    curl_multi_cleanup(loop_);
    for (auto const& [option, list] : lists_) curl_slist_free_all(list);
}

void Transfer::add_line(CURLoption option, std::string const& line) {
    auto found = std::ranges::find(lists_, option, [](auto const& entry) { return entry.first; });
    if (found == lists_.end()) found = lists_.insert(lists_.end(), {option, nullptr});
    found->second = curl_slist_append(found->second, line.c_str());
}

int Transfer::look(void* self, curl_off_t, curl_off_t, curl_off_t, curl_off_t) {
    auto const& own = *static_cast<Transfer*>(self);
    return own.stop_.stop_requested() || (own.over_ && own.over_()) ? 1 : 0;
}

CURLcode Transfer::perform() {
    for (auto const& [option, list] : lists_) set(option, list);
    auto const began = std::chrono::steady_clock::now();
    auto const code = run();
    took_ = std::chrono::steady_clock::now() - began;
    return code;
}

CURLcode Transfer::run() {
    std::stop_callback const wake(stop_, [this] { curl_multi_wakeup(loop_); });
    if (curl_multi_add_handle(loop_, handle_) != CURLM_OK) return CURLE_FAILED_INIT;
    auto code = CURLE_ABORTED_BY_CALLBACK;
    for (int running = 1; !stop_.stop_requested();) {
        if (curl_multi_perform(loop_, &running) != CURLM_OK) code = CURLE_FAILED_INIT, running = 0;
        int left = 0;
        if (auto const* message = curl_multi_info_read(loop_, &left)) code = message->data.result;
        if (running == 0) break;
        curl_multi_poll(loop_, nullptr, 0, longest_look_ms, nullptr);
    }
    curl_multi_remove_handle(loop_, handle_);
    return code;
}

bool Transfer::connected() const {
    return has_happened(handle_, CURLINFO_CONNECT_TIME_T);
}

bool Transfer::encrypted() const {
    return has_happened(handle_, CURLINFO_APPCONNECT_TIME_T);
}

long Transfer::status() const {
    long code = 0;
    curl_easy_getinfo(handle_, CURLINFO_RESPONSE_CODE, &code);
    return code;
}

std::optional<std::chrono::seconds> Transfer::retry_after() const {
    curl_off_t wait = 0;
    if (curl_easy_getinfo(handle_, CURLINFO_RETRY_AFTER, &wait) != CURLE_OK || wait <= 0) return std::nullopt;
    return std::chrono::seconds(wait);
}

std::string Transfer::reason(CURLcode code) const {
    auto const who = redacted(url_);
    if (code == CURLE_OPERATION_TIMEDOUT)
        return who + (connected() ? " did not answer within " : " took no connection within ") +
               std::to_string(std::chrono::round<std::chrono::seconds>(took_).count()) + " s";
    if (code == CURLE_ABORTED_BY_CALLBACK) return "broken off because the daemon stops";
    auto what = who + ": " + curl_easy_strerror(code);
    if (code != CURLE_PEER_FAILED_VERIFICATION) return what;
    auto const now = std::chrono::floor<std::chrono::milliseconds>(std::chrono::system_clock::now());
    return what + ". This board believes that it is " + iso_time(now).substr(0, 16) +
           "Z: if that is wrong, its clock is not set yet, and it is tried again as soon as it is";
}

Attempt Transfer::failure(CURLcode code) const {
    bool const certificate = code == CURLE_PEER_FAILED_VERIFICATION || code == CURLE_SSL_ISSUER_ERROR;
    auto attempt = Attempt::try_again(reason(code), {},
                                      certificate ? Attempt::Cause::certificate : Attempt::Cause::other);
    curl_off_t connected_us = 0;
    attempt.unreached =
        curl_easy_getinfo(handle_, CURLINFO_CONNECT_TIME_T, &connected_us) == CURLE_OK && connected_us == 0;
    return attempt;
}

void refuse_unusable_url(std::string const& key, std::string const& url,
                         std::initializer_list<std::string_view> schemes) {
    std::string allowed;
    for (auto const scheme : schemes) allowed += (allowed.empty() ? "" : " or ") + std::string(scheme);
    auto const scheme = std::ranges::find_if(schemes, [&](auto each) { return url.starts_with(each); });
    if (scheme == schemes.end())
        throw WrongOption(key, "does not begin with " + allowed, std::string(*schemes.begin()) + "host/path");
    auto const rest = std::string_view(url).substr(scheme->size());
    auto const host = rest.substr(0, rest.find_first_of("/?#"));
    if (host.find('@') != std::string_view::npos)
        throw WrongOption(key, "holds a user or a password",
                          "only the address; secrets have keys of their own");
    auto const control = [](char c) { return static_cast<unsigned char>(c) <= ' ' || c == 0x7f; };
    std::unique_ptr<CURLU, decltype(&curl_url_cleanup)> const parsed(curl_url(), curl_url_cleanup);
    if (host.empty() || std::ranges::any_of(url, control) ||
        curl_url_set(parsed.get(), CURLUPART_URL, url.c_str(), CURLU_NON_SUPPORT_SCHEME) != CURLUE_OK)
        throw WrongOption(key, "is no address", std::string(*schemes.begin()) + "host/path");
}

std::string redacted(std::string_view url) {
    auto const scheme = url.find("://");
    auto const begin = scheme == std::string_view::npos ? 0 : scheme + 3;
    auto const end = std::min(url.find_first_of("/?#", begin), url.size());
    auto host = url.substr(begin, end - begin);
    if (auto const at = host.rfind('@'); at != std::string_view::npos) host.remove_prefix(at + 1);
    return std::string(url.substr(0, begin)) + std::string(host);
}

}  // namespace ingle
