// One transfer through libcurl, bounded in time and broken off on request. Used by the notifiers that need a
// network; each transfer on the thread of its channel.
#pragma once

#include <curl/curl.h>

#include <chrono>
#include <functional>
#include <memory>
#include <stop_token>
#include <string>
#include <string_view>

#include "daemon/notices/notifier.hpp"

namespace ingle {

class Transfer {
public:
    Transfer(std::string const& url, std::stop_token stop);
    ~Transfer();
    Transfer(Transfer const&) = delete;
    Transfer& operator=(Transfer const&) = delete;

    template <class Value>
    void set(CURLoption option, Value value) {
        curl_easy_setopt(handle_, option, value);
    }
    void add_line(CURLoption option, std::string const& line);  // to the list that `option` takes
    // Asked about once a second while it lasts; true breaks it off.
    void break_off_when(std::function<bool()> over) { over_ = std::move(over); }
    CURLcode perform();
    bool connected() const;  // the host took the connection
    bool encrypted() const;  // from the start, not on request
    long status() const;     // the server's last reply; 0 = none
    std::optional<std::chrono::seconds> retry_after() const;
    std::string reason(CURLcode code) const;  // "host did not answer within 10 s"
    Attempt failure(CURLcode code) const;     // without an answer: worth another try, and whether the
                                              // certificate was the cause

private:
    static int look(void* self, curl_off_t, curl_off_t, curl_off_t, curl_off_t);

    CURLcode run();

    CURL* handle_;
    CURLM* loop_ = curl_multi_init();  // curl_easy_perform() looks at a stop only about once a second
    std::string url_;
    std::stop_token stop_;
    std::function<bool()> over_;
    std::chrono::steady_clock::duration took_{0};
    char error_[CURL_ERROR_SIZE] = {};
    std::vector<std::pair<CURLoption, curl_slist*>> lists_;
};

// Throws WrongOption where `url` cannot be one with any of these beginnings, or carries a user and a
// password.
void refuse_unusable_url(std::string const& key, std::string const& url,
                         std::initializer_list<std::string_view> schemes);

// A URL as an error may show it: without user, password and what follows the path.
std::string redacted(std::string_view url);

}  // namespace ingle
