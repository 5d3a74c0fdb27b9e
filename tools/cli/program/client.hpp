// HTTP to the daemon over its Unix socket, one request a connection.
#pragma once

#include <filesystem>
#include <string>

#include <nlohmann/json.hpp>

#include "tools/cli/program/command.hpp"

namespace ingle::cli {

using Json = nlohmann::ordered_json;

struct NoDaemon : Failure {  // nobody answers there
    using Failure::Failure;
};

class Client {
public:
    // A little more than the daemon gives its logbook.
    static constexpr long usual_limit_s = 30;

    explicit Client(std::filesystem::path socket, long answer_limit_s = usual_limit_s)
        : socket_(std::move(socket)), answer_limit_s_(answer_limit_s) {}

    // The answer's JSON. Throws NoDaemon with a sentence and the remedy, or Failure with the daemon's own
    // sentence where it refuses.
    Json get(std::string const& target) const;
    Json post(std::string const& target, Json const& body) const;
    // Sends a command and says what the daemon did.
    int command(Context& context, std::string const& name, Json const& body, bool json) const;

private:
    Json ask(bool post, std::string const& target, std::string const& body) const;

    std::filesystem::path socket_;
    long answer_limit_s_;
};

std::string percent_encoded(std::string_view text);
std::string user_name();  // of who runs this: for "acknowledged by"

}  // namespace ingle::cli
