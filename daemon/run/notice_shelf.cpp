#include "daemon/run/notice_shelf.hpp"

#include <algorithm>
#include <chrono>
#include <thread>

namespace ingle {
namespace {

constexpr std::chrono::milliseconds longest_wait_for_disk{250};

char const* outcome_word(logbook::OutboxRow const& row) {
    if (row.state == "pending") return "retry";
    return row.state == "sent" ? "delivered" : "gave-up";
}

logbook::OutboxRow row_of(std::string const& channel, Notice const& notice) {
    logbook::OutboxRow row;
    row.id = notice.id;
    row.channel = channel;
    row.kind = notice.kind;
    row.body = stored_json(notice);
    row.at = BootClock::now();
    return row;
}

}  // namespace

void NoticeShelf::write_to(logbook::Writer& writer) {
    std::lock_guard const lock(mutex_);
    writer_ = &writer;
    tickets_.clear();
    taken_up_ = rows_;
}

void NoticeShelf::take_up(std::vector<logbook::OutboxRow> const& rows,
                          std::vector<std::pair<std::string, Instant>> const& sent) {
    std::lock_guard const lock(mutex_);
    for (auto const& [channel, at] : sent) note_message(channel, at);
    rows_.insert(rows_.end(), rows.begin(), rows.end());
    taken_up_ = rows;
}

void NoticeShelf::store(std::string const& channel, Notice const& notice) {
    auto row = row_of(channel, notice);
    std::lock_guard const lock(mutex_);
    tickets_[row.id] = writer_->put(row);
    rows_.push_back(std::move(row));
}

void NoticeShelf::sent(std::string const& channel, std::string const& id) {
    change(channel, id, [](logbook::OutboxRow& row) {
        ++row.attempts;
        row.state = "sent";
        row.error.clear();
    });
}

void NoticeShelf::failed(std::string const& channel, std::string const& id, std::string const& reason,
                         bool final) {
    change(channel, id, [&](logbook::OutboxRow& row) {
        ++row.attempts;
        row.error = reason;
        if (final) row.state = "failed";
    });
}

void NoticeShelf::tested(std::string const& channel, Notice const& notice, Attempt const& attempt) {
    bool const delivered = attempt.outcome == Attempt::Outcome::delivered;
    auto row = row_of(channel, notice);
    row.attempts = 1;
    row.state = delivered ? "sent" : "failed";
    row.error = attempt.reason;
    row.done = row.at;
    std::lock_guard const lock(mutex_);
    if (delivered) last_delivered_[channel] = row.at;
    writer_->put(row);
    writer_->record(logbook::DeliveryAttempt{row.id, row.at, outcome_word(row), row.error});
}

// Before the first attempt the notice is on the disk, so that a kill after it tells the same one again; but
// a slow disk delays nobody for long.
bool NoticeShelf::is_pending(std::string const& channel, std::string const& id) {
    auto const limit = std::chrono::steady_clock::now() + longest_wait_for_disk;
    for (;;) {
        {
            std::lock_guard const lock(mutex_);
            auto const row = std::ranges::find_if(
                rows_, [&](auto const& r) { return r.id == id && r.channel == channel; });
            if (row == rows_.end()) return false;
            auto const ticket = tickets_.find(id);
            if (row->attempts > 0 || ticket == tickets_.end() || writer_->durable() >= ticket->second)
                return true;
        }
        if (std::chrono::steady_clock::now() >= limit) return true;
        std::this_thread::sleep_for(std::chrono::milliseconds(2));
    }
}

std::vector<Outbox::Pending> NoticeShelf::pending() {
    std::lock_guard const lock(mutex_);
    std::vector<Pending> list;
    for (auto const& row : std::exchange(taken_up_, {}))
        if (auto notice = notice_from_json(row.body))
            list.push_back({row.channel, std::move(*notice), row.attempts});
    return list;
}

std::vector<Outbox::Sent> NoticeShelf::sent_lately() {
    auto const steady = std::chrono::steady_clock::now();
    auto const boot = BootClock::now();
    std::lock_guard const lock(mutex_);
    std::vector<Sent> list;
    for (auto const& [channel, times] : messages_)
        for (auto const at : times) list.push_back({channel, steady - (boot - at)});
    return list;
}

std::optional<Instant> NoticeShelf::last_delivered(std::string const& channel) const {
    std::lock_guard const lock(mutex_);
    auto const found = last_delivered_.find(channel);
    return found == last_delivered_.end() ? std::nullopt : std::optional(found->second);
}

// The notices of one message leave the outbox one right after the other.
void NoticeShelf::note_message(std::string const& channel, Instant at) {
    auto& times = messages_[channel];
    while (!times.empty() && times.front() + std::chrono::hours(1) <= at) times.pop_front();
    if (times.empty() || at - times.back() > Span(20)) times.push_back(at);
}

void NoticeShelf::change(std::string const& channel, std::string const& id,
                         std::function<void(logbook::OutboxRow&)> const& how) {
    std::lock_guard const lock(mutex_);
    auto const row =
        std::ranges::find_if(rows_, [&](auto const& r) { return r.id == id && r.channel == channel; });
    if (row == rows_.end()) return;
    how(*row);
    auto const now = BootClock::now();
    if (row->state != "pending") row->done = now;
    if (row->state == "sent") {
        note_message(channel, now);
        last_delivered_[channel] = now;
    }
    writer_->put(*row);
    writer_->record(logbook::DeliveryAttempt{row->id, now, outcome_word(*row), row->error});
    if (row->state == "pending") return;
    tickets_.erase(id);
    rows_.erase(row);
}

}  // namespace ingle
