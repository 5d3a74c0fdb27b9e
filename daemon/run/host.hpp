// Answers the web server's questions from the core, the logbook and the notices. Owned by the app; io thread.
#pragma once

#include <functional>
#include <map>
#include <memory>
#include <string>
#include <vector>

#include "daemon/run/archive.hpp"
#include "daemon/run/core.hpp"
#include "daemon/run/notice_desk.hpp"
#include "daemon/run/probes.hpp"
#include "daemon/web/host.hpp"

namespace ingle {

class Host final : public WebHost {
public:
    struct Parts {
        Core& core;
        Archive &archive, &planner;
        logbook::Writer& writer;
        NoticeDesk& notices;
        Probes& probes;
        Instant started;
        TimeZone const& zone;
        std::string state_folder;
    };
    explicit Host(Parts const& parts);

    View view() override { return parts_.core.view(); }
    Settings const& settings() override { return parts_.core.settings(); }
    TimeZone const& zone() override { return parts_.zone; }
    Status status() override;
    std::vector<PendingNotice> pending_notices() override { return parts_.notices.pending(); }
    Instant now() override { return BootClock::now(); }
    void submit(Command command, Reply<Outcome> reply) override;
    void test_channel(std::string name, Reply<Outcome> reply) override;
    NoticeLink notice_link(std::string const& token) override;
    void use_notice_link(std::string const& token, Reply<NoticeLink> reply) override;
    std::string guest_pass(std::string const& token, WallMs until) override;
    std::optional<WallMs> guest_until(std::string const& token, std::string_view pass) override;
    void commit(Reply<Outcome> reply) override;
    void history(HistoryQuery query, Reply<Answer<History>> reply) override;
    void past_alarms(TimeSpan span, Reply<Answer<std::vector<PastAlarm>>> reply) override;
    void past_notices(TimeSpan span, Reply<Answer<PastNotices>> reply) override;
    void past_cooks(TimeSpan span, Reply<Answer<std::vector<PastCook>>> reply) override;
    void schedule(Reply<Answer<std::string>> reply) override;
    void export_page(ExportQuery query, std::string cursor, Reply<Answer<ExportPage>> reply) override;

    void retire();  // another one has the kitchen: nothing is commanded here any more, and no notice is sent
    // Sends the replies whose commands are on disk, and those that waited for the disk too long.
    void settle(Instant now);
    void settle_all();  // the logbook is closed: all replies
    // How many probes give values and what stands: "6 of 6 probes gave a value ..., no alarm stands."
    std::string sign_of_life(Instant now);

private:
    std::string guest_key(std::string const& token);
    void obey(Command const& command, Reply<Outcome> reply);
    void begin_afterwards(Begin begin, std::int64_t offset_ms, Reply<Outcome> reply);
    void reply_when_durable(std::uint64_t ticket, Outcome outcome, Reply<Outcome> reply);

    struct Waiting {
        std::uint64_t ticket;
        Instant since;
        Outcome outcome;
        Reply<Outcome> reply;
    };

    Parts parts_;
    std::vector<Waiting> waiting_;
    bool retired_ = false;
    std::optional<std::string> guest_secret_;  // once it was asked for
    // Who waits for a schedule that is being made, by what it is made of: however many pages ask, it is made
    // once.
    using Askers = std::map<std::string, std::vector<Reply<Answer<std::string>>>>;
    std::shared_ptr<Askers> schedules_ = std::make_shared<Askers>();
};

}  // namespace ingle
