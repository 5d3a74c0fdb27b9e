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

logbook::Reader& Archive::reader() {
    if (!reader_ || !reader_->failure().empty()) reader_ = std::make_unique<logbook::Reader>(path_);
    return *reader_;
}

}  // namespace ingle
