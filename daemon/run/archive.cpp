#include "daemon/run/archive.hpp"

namespace ingle {

Archive::Archive(boost::asio::io_context& io, std::string path) : io_(io), path_(std::move(path)) {}

Archive::~Archive() {
    stop();
}

void Archive::stop() {
    thread_.stop();
    thread_.join();
}

void Archive::finish() {
    thread_.join();
}

}  // namespace ingle
