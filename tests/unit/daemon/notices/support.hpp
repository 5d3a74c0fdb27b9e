// Real receivers for the tests of notices: an HTTP server that answers from a script, and an outbox that
// remembers what it was told.
#pragma once

#include <atomic>
#include <deque>
#include <mutex>
#include <string>
#include <thread>
#include <vector>

#include "daemon/notices/delivery.hpp"
#include "drivers/api/asio.hpp"

namespace ingle {

// Answers each request with the next status of the script ("500", "429 Retry-After: 1", "mute" = never), then
// 200.
class HttpReceiver {
public:
    explicit HttpReceiver(std::deque<std::string> script)
        : script_(std::move(script)),
          acceptor_(io_, {boost::asio::ip::address_v4::loopback(), 0}),
          thread_([this] { run(); }) {}
    ~HttpReceiver() {
        stopping_ = true;
        boost::system::error_code ignored;
        boost::asio::ip::tcp::socket poke(io_);
        poke.connect(acceptor_.local_endpoint(), ignored);
        thread_.join();
    }
    std::string url() const {
        return "http://127.0.0.1:" + std::to_string(acceptor_.local_endpoint().port()) + "/notice";
    }
    std::vector<std::string> requests() const {
        std::lock_guard const lock(mutex_);
        return requests_;
    }
    std::vector<std::chrono::steady_clock::time_point> times() const {
        std::lock_guard const lock(mutex_);
        return times_;
    }

private:
    void run() {
        std::vector<boost::asio::ip::tcp::socket> muted;
        while (!stopping_) {
            boost::asio::ip::tcp::socket socket(io_);
            acceptor_.accept(socket);
            if (stopping_) return;
            boost::system::error_code error;
            std::string text;
            auto const head =
                boost::asio::read_until(socket, boost::asio::dynamic_buffer(text), "\r\n\r\n", error);
            auto const at = text.find("Content-Length: ");
            auto const length = at == std::string::npos ? 0 : std::stoul(text.substr(at + 16));
            if (text.size() < head + length)
                boost::asio::read(socket, boost::asio::dynamic_buffer(text),
                                  boost::asio::transfer_exactly(head + length - text.size()), error);
            std::string answer = "200";
            {
                std::lock_guard const lock(mutex_);
                requests_.push_back(text);
                times_.push_back(std::chrono::steady_clock::now());
                if (!script_.empty()) {
                    answer = script_.front();
                    script_.pop_front();
                }
            }
            if (answer == "mute") {
                muted.push_back(std::move(socket));
                continue;
            }
            auto const extra = answer.size() > 4 ? answer.substr(4) + "\r\n" : "";
            boost::asio::write(socket,
                               boost::asio::buffer("HTTP/1.1 " + answer.substr(0, 3) + " X\r\n" + extra +
                                                   "Content-Length: 0\r\nConnection: close\r\n\r\n"),
                               error);
        }
    }

    mutable std::mutex mutex_;
    std::deque<std::string> script_;
    std::vector<std::string> requests_;
    std::vector<std::chrono::steady_clock::time_point> times_;
    std::atomic<bool> stopping_{false};
    boost::asio::io_context io_;
    boost::asio::ip::tcp::acceptor acceptor_;
    std::thread thread_;
};

class MemoryOutbox : public Outbox {
public:
    void store(std::string const& channel, Notice const& notice) override {
        add("store " + channel + " " + notice.id);
    }
    void sent(std::string const& channel, std::string const& id) override {
        add("sent " + channel + " " + id);
    }
    void failed(std::string const& channel, std::string const& id, std::string const& reason,
                bool final) override {
        add((final ? "given up " : "failed ") + channel + " " + id + ": " + reason);
    }
    bool is_pending(std::string const&, std::string const&) override { return true; }
    std::vector<Pending> pending() override { return left; }
    std::vector<std::string> told() const {
        std::lock_guard const lock(mutex_);
        return told_;
    }
    std::size_t count(std::string const& prefix) const {
        std::size_t n = 0;
        for (auto const& line : told()) n += line.starts_with(prefix) ? 1 : 0;
        return n;
    }
    std::vector<Pending> left;

private:
    void add(std::string line) {
        std::lock_guard const lock(mutex_);
        told_.push_back(std::move(line));
    }
    mutable std::mutex mutex_;
    std::vector<std::string> told_;
};

}  // namespace ingle
