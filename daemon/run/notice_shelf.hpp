// The outbox of the channels, kept in the logbook.
#pragma once

#include <deque>
#include <functional>
#include <map>
#include <mutex>
#include <optional>
#include <string>
#include <utility>
#include <vector>

#include "daemon/logbook/logbook.hpp"
#include "daemon/notices/delivery.hpp"

namespace ingle {

// The rows as they stand, so that each change writes the whole row. Its calls come from several threads.
class NoticeShelf : public Outbox {
public:
    explicit NoticeShelf(logbook::Writer& writer) : writer_(&writer) {}

    void write_to(logbook::Writer& writer);
    // What an earlier run left, and the messages that it sent in the last hour.
    void take_up(std::vector<logbook::OutboxRow> const& rows,
                 std::vector<std::pair<std::string, Instant>> const& sent);
    // A test is not tried again, so it is stored when its outcome is known.
    void tested(std::string const& channel, Notice const& notice, Attempt const& attempt);
    // In this run: also what could not be recorded.
    std::optional<Instant> last_delivered(std::string const& channel) const;

    void store(std::string const& channel, Notice const& notice) override;
    void sent(std::string const& channel, std::string const& id) override;
    void failed(std::string const& channel, std::string const& id, std::string const& reason,
                bool final) override;
    bool is_pending(std::string const& channel, std::string const& id) override;
    std::vector<Pending> pending() override;
    std::vector<Sent> sent_lately() override;

private:
    void note_message(std::string const& channel, Instant at);
    void change(std::string const& channel, std::string const& id,
                std::function<void(logbook::OutboxRow&)> const& how);

    logbook::Writer* writer_;
    std::map<std::string, std::uint64_t> tickets_;  // the writer's, by the id of what this run stored
    mutable std::mutex mutex_;
    std::map<std::string, std::deque<Instant>> messages_;  // of the last hour, by channel
    std::map<std::string, Instant> last_delivered_;        // by channel
    std::vector<logbook::OutboxRow> rows_;                 // pending ones only
    std::vector<logbook::OutboxRow> taken_up_;             // of the last run, not handed to the channels yet
};

}  // namespace ingle
