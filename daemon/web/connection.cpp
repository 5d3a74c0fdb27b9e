#include "daemon/web/connection.hpp"

#include <algorithm>
#include <array>
#include <boost/beast/core.hpp>
#include <boost/beast/http.hpp>
#include <chrono>
#include <map>
#include <vector>

#include "daemon/web/guard.hpp"
#include "daemon/web/json.hpp"
#include "daemon/web/message.hpp"

namespace ingle {
namespace {

namespace asio = boost::asio;
namespace beast = boost::beast;
namespace http = boost::beast::http;
using boost::system::error_code;

constexpr std::size_t most_header = 8 * 1024;
constexpr std::size_t most_body = 64 * 1024;           // the longest honest command is a long note
constexpr auto idle_limit = std::chrono::seconds(30);  // between requests, and for a request or an answer
// Of a request that is refused while it is still being sent.
constexpr std::size_t most_heard_out = 1024 * 1024;
constexpr auto longest_hearing_out = std::chrono::seconds(2);
// Who guesses a token gets eight tries a second in all, and one line in the log a minute.
constexpr auto wrong_token_delay = std::chrono::seconds(1);
constexpr int most_delayed = 8;
constexpr auto wrong_tokens_every = std::chrono::minutes(1);
constexpr auto heartbeat = std::chrono::seconds(15);  // of an event stream without events

// Of the connections of one socket the rest stays free for answers. A page that lost its stream asks again.
constexpr std::ptrdiff_t most_listeners = 48;

// The oldest stream of whoever has most of them gives its place to a new one.
void make_room_for_listener(ServerState& state, bool tcp) {
    std::map<std::string, std::vector<Connection*>> by_peer;
    std::ptrdiff_t all = 0;
    for (auto* listener : state.listeners)
        if (listener->tcp() == tcp) by_peer[listener->peer()].push_back(listener), ++all;
    if (all < most_listeners) return;
    auto const most =
        std::ranges::max_element(by_peer, {}, [](auto const& one) { return one.second.size(); });
    auto* oldest = *std::ranges::min_element(most->second, {}, &Connection::listening_since);
    state.listeners.erase(oldest);
    oldest->stop();
}

// Whether its answer could tell something of the token: whoever shows a wrong one there is slowed down. What
// anybody may read on this machine is not, so that a page with an old cookie is no second late.
bool asks_of_token(Request const& request) {
    bool const reads = request.method == "GET" || request.method == "HEAD";
    auto const target = parse_target(request.target);
    return !reads || request.caller.off_loopback || !request.caller.authorization.empty() ||
           (target && target->path == "/api/session");
}

template <class Protocol>
class SocketConnection final : public Connection {
public:
    SocketConnection(std::shared_ptr<ServerState> state, typename Protocol::socket socket)
        : state_(std::move(state)), stream_(std::move(socket)), wake_(state_->io) {
        if constexpr (std::is_same_v<Protocol, asio::ip::tcp>) {
            error_code error;
            auto const from = stream_.socket().remote_endpoint(error);
            if (!error) peer_ = from.address().to_string();
        }
    }

    void start() override {
        state_->connections.insert(shared_from_this());
        state_->counts.connections = static_cast<std::int64_t>(state_->connections.size());
        auto self = std::static_pointer_cast<SocketConnection>(shared_from_this());
        asio::co_spawn(
            state_->io, [self] { return self->run(self); },
            [self](std::exception_ptr failure) { self->end(failure); });
    }

    void stop() override {
        stopped_ = true;
        wake_.cancel();
        error_code ignored;
        stream_.socket().close(ignored);
    }

    void offer(std::shared_ptr<std::string const> const& event) override {
        if (queue_.push(event)) {
            wake_.cancel();
        } else if (!stopped_) {
            drop();
        }
    }

    bool tcp() const override { return std::is_same_v<Protocol, asio::ip::tcp>; }
    std::optional<std::chrono::steady_clock::time_point> waiting_since() const override {
        return waiting_since_;
    }
    std::chrono::steady_clock::time_point listening_since() const override { return listening_since_; }
    std::string const& peer() const override { return peer_; }

private:
    using Stream = beast::basic_stream<Protocol>;

    void end(std::exception_ptr failure) {
        if (failure) {
            ++state_->counts.failures;
            try {
                std::rethrow_exception(failure);
            } catch (std::exception const& error) {
                state_->log(std::string("web: a request failed: ") + error.what());
            } catch (...) {
                state_->log("web: a request failed");
            }
        }
        stop();
        leave_listeners();
        state_->connections.erase(shared_from_this());
        state_->counts.connections = static_cast<std::int64_t>(state_->connections.size());
    }

    void drop() {
        ++state_->counts.dropped_listeners;
        state_->log("web: dropped a client of the event stream that did not read");
        stop();
    }

    void leave_listeners() {
        state_->listeners.erase(this);
        state_->counts.listeners = static_cast<std::int64_t>(state_->listeners.size());
    }

    asio::awaitable<void> run(std::shared_ptr<SocketConnection> self) {
        bool keep = true;
        while (keep && !stopped_) keep = co_await one_request(self);
        error_code ignored;
        stream_.socket().shutdown(Protocol::socket::shutdown_send, ignored);
    }

    asio::awaitable<bool> one_request(std::shared_ptr<SocketConnection> self) {
        http::request_parser<http::string_body> parser;
        parser.header_limit(most_header);
        parser.body_limit(most_body);
        error_code error;
        stream_.expires_after(idle_limit);
        waiting_since_ = std::chrono::steady_clock::now();
        co_await http::async_read(stream_, buffer_, parser, asio::redirect_error(asio::use_awaitable, error));
        waiting_since_.reset();
        if (stopped_) co_return false;
        if (error) {
            auto const sentence = complaint(error);
            if (sentence.status != 200) {
                ++state_->counts.requests;
                co_await send(sentence, 11, false, false);
                co_await hear_out();
            }
            co_return false;
        }
        ++state_->counts.requests;
        auto const message = parser.release();
        if (auto const wrong = improper(message); wrong.status != 200) {
            co_await send(wrong, message.version(), false, message.method() == http::verb::head);
            co_return false;
        }
        bool const keep = message.keep_alive(), head = message.method() == http::verb::head;
        auto const request = request_of(message);
        if (shows_wrong_token(request.caller, state_->token()) && asks_of_token(request)) {
            bool const answered = co_await slow_down();
            if (!answered) co_return false;
        }
        auto routed = route(request, *state_->host, state_->counts, state_->token());
        if (auto const* stream = std::get_if<EventStream>(&routed)) {
            if (head) {
                Response nothing{200, "text/event-stream", "", {}};
                co_await send(std::move(nothing), message.version(), false, true);
                co_return false;
            }
            co_await listen(stream->until);
            co_return false;
        }
        if (auto* stream = std::get_if<ExportStream>(&routed)) {
            co_return co_await send_export(self, std::move(stream->query), message.version(), head) && keep;
        }
        if (auto* ask = std::get_if<Ask>(&routed))
            routed = co_await wait_for<Response>(self, std::move(*ask));
        if (stopped_) co_return false;
        co_return co_await send(std::get<Response>(std::move(routed)), message.version(), keep, head) && keep;
    }

    // Closed with something unread, a connection is reset and its client does not see the answer.
    asio::awaitable<void> hear_out() {
        error_code error;
        stream_.socket().shutdown(Protocol::socket::shutdown_send, error);
        stream_.expires_after(longest_hearing_out);
        std::array<char, 4096> unread;
        for (std::size_t heard = 0; !error && heard < most_heard_out && !stopped_;)
            heard += co_await stream_.async_read_some(asio::buffer(unread),
                                                      asio::redirect_error(asio::use_awaitable, error));
    }

    // False: too many wait already, or the connection is gone.
    asio::awaitable<bool> slow_down() {
        ++state_->wrong_tokens;
        auto const now = std::chrono::steady_clock::now();
        if (now - state_->wrong_tokens_told >= wrong_tokens_every ||
            state_->wrong_tokens_told == decltype(now){}) {
            state_->log("web: a wrong token was shown over TCP, " + std::to_string(state_->wrong_tokens) +
                        " times since the last such line");
            state_->wrong_tokens_told = now;
            state_->wrong_tokens = 0;
        }
        if (state_->delayed >= most_delayed) co_return false;
        ++state_->delayed;
        error_code ignored;
        wake_.expires_after(wrong_token_delay);
        co_await wake_.async_wait(asio::redirect_error(asio::use_awaitable, ignored));
        --state_->delayed;
        co_return !stopped_;
    }

    Request request_of(http::request<http::string_body> const& message) {
        auto const header = [&](http::field field) {
            auto const found = message[field];
            return std::string_view(found.data(), found.size());
        };
        auto const method = message.method_string();
        auto const target = message.target();
        Request request{std::string(method.data(), method.size()),
                        std::string(target.data(), target.size()),
                        message.body(),
                        std::string(header(http::field::content_type)),
                        {}};
        request.if_none_match = header(http::field::if_none_match);
        request.accept_encoding = header(http::field::accept_encoding);
        request.caller.tcp = std::is_same_v<Protocol, asio::ip::tcp>;
        request.caller.off_loopback = request.caller.tcp && state_->off_loopback;
        if (state_->settings.tcp) request.caller.bound_address = state_->settings.tcp->address;
        request.caller.host = header(http::field::host);
        request.caller.origin = header(http::field::origin);
        auto const site = message["Sec-Fetch-Site"];  // Fetch Metadata Request Headers (W3C)
        request.caller.fetch_site = {site.data(), site.size()};
        request.caller.authorization = header(http::field::authorization);
        request.caller.cookie = header(http::field::cookie);
        return request;
    }

    // Waits for an answer that comes once, at once or later, or for the limit. 504 if it does not come.
    template <class T>
    asio::awaitable<T> wait_for(std::shared_ptr<SocketConnection> self, std::function<void(Reply<T>)> ask) {
        auto answer = std::make_shared<std::optional<T>>();
        wake_.expires_after(state_->settings.reply_limit);
        // Weak: a reply that the host keeps for ever must not keep a socket beyond its loop.
        ask([weak = std::weak_ptr(self), answer](T value) {
            *answer = std::move(value);
            if (auto const waiting = weak.lock()) waiting->wake_.cancel();
        });
        error_code ignored;
        if (!*answer) co_await wake_.async_wait(asio::redirect_error(asio::use_awaitable, ignored));
        if (*answer) co_return std::move(**answer);
        co_return no_answer(static_cast<T*>(nullptr));
    }
    static Response no_answer(Response*) {
        return plain_error(
            504, "no answer in time: the disk may be slow or stuck, or this is too much to work out here");
    }
    static Answer<ExportPage> no_answer(Answer<ExportPage>*) {
        return {{}, "no answer in time: the disk may be slow or stuck, or this is too much to work out here"};
    }

    asio::awaitable<bool> send(Response response, unsigned version, bool keep, bool head) {
        if (response.status >= 400 && response.status < 500) ++state_->counts.refused;
        http::response<http::string_body> message(static_cast<http::status>(response.status), version);
        common_headers(message, response.type);
        for (auto const& [name, value] : response.headers) message.set(name, value);
        message.keep_alive(keep);
        message.body() = std::move(response.body);
        message.prepare_payload();
        if (head) message.body().clear();  // the length of what GET would give stays
        error_code error;
        stream_.expires_after(idle_limit);
        co_await http::async_write(stream_, message, asio::redirect_error(asio::use_awaitable, error));
        co_return !error;
    }

    asio::awaitable<bool> send_export(std::shared_ptr<SocketConnection> self, ExportQuery query,
                                      unsigned version, bool head) {
        std::string cursor;
        bool begun = false;
        error_code error;
        auto const form = [this] {
            auto const& settings = state_->host->settings();
            return std::pair(settings.units, settings.zone);
        };
        auto const begun_in = form();
        do {
            if (form() != begun_in) co_return false;  // another kitchen file: no second unit in one table
            auto answer = co_await wait_for<Answer<ExportPage>>(self, [&](Reply<Answer<ExportPage>> reply) {
                state_->host->export_page(query, cursor, std::move(reply));
            });
            if (stopped_) co_return false;
            if (!answer.error.empty()) {
                if (!begun) co_return co_await send(plain_error(503, answer.error), version, false, head);
                co_return false;  // the missing last chunk tells the client that it is not whole
            }
            stream_.expires_after(idle_limit);
            if (!begun) {
                http::response<http::empty_body> message(http::status::ok, version);
                common_headers(message, "text/csv; charset=utf-8");
                message.chunked(true);
                http::response_serializer<http::empty_body> serializer(message);
                co_await http::async_write_header(stream_, serializer,
                                                  asio::redirect_error(asio::use_awaitable, error));
                if (error || head) co_return false;
                begun = true;
            }
            if (!answer.value.text.empty()) {
                co_await asio::async_write(stream_, http::make_chunk(asio::buffer(answer.value.text)),
                                           asio::redirect_error(asio::use_awaitable, error));
            }
            if (error || stopped_) co_return false;
            cursor = std::move(answer.value.cursor);
        } while (!cursor.empty());
        co_await asio::async_write(stream_, http::make_chunk_last(),
                                   asio::redirect_error(asio::use_awaitable, error));
        co_return !error;
    }

    asio::awaitable<void> listen(std::optional<WallMs> until) {
        auto const is_over = [&] {
            auto const offset = state_->host->view().wall_offset_ms;
            return offset && state_->host->now().time_since_epoch().count() + *offset >= *until;
        };
        make_room_for_listener(*state_, tcp());
        listening_since_ = std::chrono::steady_clock::now();
        state_->listeners.insert(this);
        state_->counts.listeners = static_cast<std::int64_t>(state_->listeners.size());
        auto text = std::make_shared<std::string const>(
            "HTTP/1.1 200 OK\r\nContent-Type: text/event-stream\r\nCache-Control: no-store\r\n"
            "X-Content-Type-Options: nosniff\r\nConnection: close\r\n\r\nretry: 3000\n\n" +
            now_event(state_->host->view(), state_->host->status(), state_->host->settings(),
                      state_->host->pending_notices(), state_->host->zone()));
        auto const beat = std::make_shared<std::string const>(": alive\n\n");
        while (!stopped_ && !(until && is_over())) {
            error_code error;
            stream_.expires_after(idle_limit);
            co_await asio::async_write(stream_, asio::buffer(*text),
                                       asio::redirect_error(asio::use_awaitable, error));
            if (error == beast::error::timeout && !stopped_) drop();
            if (error || stopped_) break;
            stream_.expires_never();
            text = queue_.pop();
            if (!text) {
                wake_.expires_after(heartbeat);
                co_await wake_.async_wait(asio::redirect_error(asio::use_awaitable, error));
                text = queue_.pop();
            }
            if (!text) text = beat;
        }
        leave_listeners();
    }

    std::shared_ptr<ServerState> state_;
    Stream stream_;
    asio::steady_timer wake_;
    beast::flat_buffer buffer_{most_header + most_body + 1024};
    EventQueue queue_;
    std::optional<std::chrono::steady_clock::time_point> waiting_since_;
    std::chrono::steady_clock::time_point listening_since_{};
    std::string peer_;
    bool stopped_ = false;
};

}  // namespace

std::shared_ptr<Connection> make_connection(std::shared_ptr<ServerState> state,
                                            asio::local::stream_protocol::socket socket) {
    return std::make_shared<SocketConnection<asio::local::stream_protocol>>(std::move(state),
                                                                            std::move(socket));
}

std::shared_ptr<Connection> make_connection(std::shared_ptr<ServerState> state,
                                            asio::ip::tcp::socket socket) {
    return std::make_shared<SocketConnection<asio::ip::tcp>>(std::move(state), std::move(socket));
}

}  // namespace ingle
