#include "tools/cli/program/client.hpp"

#include <curl/curl.h>
#include <sys/un.h>
#include <unistd.h>

#include <cerrno>
#include <cstdlib>
#include <memory>
#include <ostream>
#include <utility>

namespace ingle::cli {
namespace {

constexpr std::size_t most_answer = std::size_t{256} << 20;

NoDaemon unreachable(std::filesystem::path const& socket, long error) {
    auto const path = socket.string();
    if (error == EACCES) {
        return NoDaemon("this user may not open " + path +
                        "; run the command as the daemon's user, or join the group of that file");
    }
    return NoDaemon("no daemon answers at " + path +
                    "; start it with `ingled --kitchen FILE`, or say where it keeps its state with --state");
}

std::size_t append(char* data, std::size_t size, std::size_t count, void* into) {
    auto& answer = *static_cast<std::string*>(into);
    if (answer.size() + size * count > most_answer) return 0;
    answer.append(data, size * count);
    return size * count;
}

struct Header {
    curl_slist* list = nullptr;
    explicit Header(char const* line) : list(curl_slist_append(nullptr, line)) {}
    ~Header() { curl_slist_free_all(list); }
    Header(Header const&) = delete;
    Header& operator=(Header const&) = delete;
};

}  // namespace

Json Client::ask(bool post, std::string const& target, std::string const& body) const {
    auto const path = socket_.string();
    if (path.size() >= sizeof(sockaddr_un::sun_path))
        throw Failure(path + " is too long for the path of a socket; use a shorter --state folder",
                      wrong_usage);
    std::unique_ptr<CURL, decltype(&curl_easy_cleanup)> const handle(curl_easy_init(), &curl_easy_cleanup);
    auto const set = [&](CURLoption option, auto value) { curl_easy_setopt(handle.get(), option, value); };
    Header const type("Content-Type: application/json");
    auto const url = "http://localhost" + target;
    std::string text;
    set(CURLOPT_URL, url.c_str());
    set(CURLOPT_UNIX_SOCKET_PATH, path.c_str());
    set(CURLOPT_NOPROXY, "*");
    set(CURLOPT_NOSIGNAL, 1L);
    set(CURLOPT_TIMEOUT, answer_limit_s_);
    set(CURLOPT_WRITEFUNCTION, &append);
    set(CURLOPT_WRITEDATA, &text);
    if (post) {
        set(CURLOPT_POSTFIELDSIZE_LARGE, static_cast<curl_off_t>(body.size()));
        set(CURLOPT_POSTFIELDS, body.c_str());
        set(CURLOPT_HTTPHEADER, type.list);
    }
    auto const result = curl_easy_perform(handle.get());
    long system_error = 0, status = 0;
    curl_easy_getinfo(handle.get(), CURLINFO_OS_ERRNO, &system_error);
    curl_easy_getinfo(handle.get(), CURLINFO_RESPONSE_CODE, &status);
    if (result == CURLE_COULDNT_CONNECT) throw unreachable(socket_, system_error);
    if (result == CURLE_OPERATION_TIMEDOUT)
        throw Failure("the daemon at " + path + " does not answer" +
                      (post ? ": whether it was done is not known; look with `ingle now`"
                            : "; see its log, or `ingle doctor`"));
    if (result != CURLE_OK)
        throw Failure("the daemon at " + path + " went away before its answer came" +
                      (post ? ": whether it was done is not known; look with `ingle now`" : ""));

    auto answer = text.empty() ? Json::object() : Json::parse(text, nullptr, false);
    if (answer.is_discarded()) throw Failure("the daemon at " + path + " answered with no JSON");
    if (status >= 300) {
        auto const sentence = answer.is_object() ? answer.value("error", "") : "";
        // What was asked for wrongly (RFC 9110), a name that is not known among it.
        bool const asked_wrongly = status == 400 || status == 404;
        throw Failure(sentence.empty() ? "the daemon refused: HTTP " + std::to_string(status) : sentence,
                      asked_wrongly ? wrong_usage : no);
    }
    return answer;
}

Json Client::get(std::string const& target) const {
    return ask(false, target, {});
}

Json Client::post(std::string const& target, Json const& body) const {
    return ask(true, target, body.dump(-1, ' ', false, Json::error_handler_t::replace));
}

int Client::command(Context& context, std::string const& name, Json const& body, bool json) const {
    auto const answer = post("/api/commands/" + name, body);
    if (json) {
        context.out << answer.dump() << "\n";
    } else {
        context.out << answer.value("text", "done") << "\n";
    }
    return answer.value("done", false) ? done : no;
}

std::string percent_encoded(std::string_view text) {
    constexpr char const* hex = "0123456789ABCDEF";
    std::string out;
    for (char const c : text) {
        auto const byte = static_cast<unsigned char>(c);
        bool const plain = (c >= 'a' && c <= 'z') || (c >= 'A' && c <= 'Z') || (c >= '0' && c <= '9') ||
                           c == '-' || c == '.' || c == '_' || c == '~';
        if (plain) {
            out += c;
        } else {
            out += '%';
            out += hex[byte >> 4];
            out += hex[byte & 15];
        }
    }
    return out;
}

std::string user_name() {
    for (auto const* variable : {"SUDO_USER", "USER", "LOGNAME"}) {
        if (auto const* name = std::getenv(variable); name && *name) return name;
    }
    auto const id = getuid();
    return id == 0 ? "root" : "user " + std::to_string(id);
}

}  // namespace ingle::cli
