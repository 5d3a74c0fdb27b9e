// From what the core wants told to notices that leave the house: names and wall times are resolved here,
// delivery and the outbox (kept in the logbook) are behind it. io thread.
#pragma once

#include <functional>
#include <memory>
#include <optional>
#include <set>
#include <string>
#include <vector>

#include "config/settings.hpp"
#include "daemon/logbook/logbook.hpp"
#include "daemon/model/command.hpp"
#include "daemon/model/effects.hpp"
#include "daemon/model/view.hpp"
#include "daemon/notices/delivery.hpp"
#include "daemon/notices/last_hour.hpp"
#include "daemon/run/notice_shelf.hpp"
#include "daemon/web/host.hpp"
#include "drivers/api/asio.hpp"

namespace ingle {

Alarm const& most_important(Tell const& tell);  // of its alarms, which must not be none

bool carries_notices(ChannelSettings const& channel);  // else it gives signs of life only
// A Tell as a notice with this id; wall times are left empty where the clock is not known.
Notice notice_of(Settings const& settings, Tell const& tell, std::optional<ClockAnchor> const& clock,
                 TimeZone const& zone, std::string id);

class NoticeDesk {
public:
    // A channel fails, or delivers again. On the io thread.
    using OnTrouble = std::function<void(std::string const& channel, bool present, std::string const& text)>;

    // Throws std::runtime_error with a sentence where a channel can never work.
    // `earlier`: of the settings before these; its outbox is shared until take_over().
    NoticeDesk(boost::asio::io_context& io, Settings const& settings, std::string const& state_folder,
               logbook::Writer& writer, TimeZone const& zone, OnTrouble on_trouble,
               NoticeDesk const* earlier = nullptr);
    ~NoticeDesk();

    // From now on this one delivers what waits, and what the earlier one still learns of an attempt under way
    // is written to this one's logbook.
    void take_over();
    void resume(logbook::Resumed const& earlier_run);  // once
    void tell(Tell const& all, std::optional<ClockAnchor> const& clock, TimeZone const& zone);
    void test(std::string const& channel, Reply<Outcome> reply);
    void leave_tests();                   // those that wait for their outcome are told that it is not known
    void prove() { delivery_->prove(); }  // each channel, in the background and without sending
    // Once a second or less often: sends `text` to each channel whose time of the day has come, once a day.
    void give_signs_of_life(std::function<std::string()> const& text);
    // The watching went round: channels for an outside watcher may give their sign of life, with `text`.
    void went_round(std::function<std::string()> const& text);
    // What somebody answers on a notice's surface goes to `obey`, on the io thread; without one to nobody.
    void obey(std::function<void(Command)> obey) { *obey_ = std::move(obey); }
    // Alarms that end, that somebody attends to, or that are otherwise than before; and what is read.
    void note(Effects const& effects);
    // Where the kitchen as it is now is seen; until retire().
    void look_through(std::function<View()> view, std::function<bool()> knows_the_past) {
        view_ = std::move(view), knows_the_past_ = std::move(knows_the_past);
    }
    // About once a second: the kitchen to the channels that show it, and to all which alarms are open.
    void show();
    void retire();  // the watching ends: nothing is shown or answered any more; notices are still delivered
    void know_the_time(ClockAnchor const& anchor);
    std::vector<PendingNotice> pending() const;
    std::vector<ChannelStatus> channels() const;
    LinkSigner links() const { return {"", link_key_}; }
    void stop();

private:
    struct Wall;  // what is known of the time, for the channels' threads
    void add_chart(Notice& notice, Tell const& tell, std::optional<ClockAnchor> const& clock,
                   TimeZone const& zone) const;
    void know_open(std::vector<Alarm> const& alarms);
    void await_open();
    void know_attended(Alarm const& alarm, bool acknowledged);
    std::vector<std::int64_t> numbers_told(Alarm const& alarm);
    Notice notice_now(std::string kind, std::string text);
    bool spares(Tell const& tell, std::string const& channel);

    boost::asio::io_context& io_;
    Settings const& settings_;
    logbook::Writer& writer_;
    std::shared_ptr<NoticeShelf> shelf_;
    std::shared_ptr<Wall> wall_;
    std::shared_ptr<std::function<void(Command)>> obey_;
    std::vector<std::weak_ptr<boost::asio::steady_timer>> tests_;
    std::unique_ptr<Delivery> delivery_;
    std::function<View()> view_;
    std::function<bool()> knows_the_past_;
    bool wants_state_ = false, wants_charts_ = false;  // some channel does
    LastHour hour_;                                    // kept only where charts are wanted
    std::string link_key_;
    std::map<std::pair<std::string, Subject>, std::int64_t> late_numbers_;  // of alarms, by type and subject
    std::set<std::string> spared_;  // channels that were not told of "not-delivered", until it has ended
    std::string run_;               // makes the ids of this run unlike any other's
    std::int64_t last_ = 0;
    std::set<std::string> signs_;  // ids of the signs of life that were given
    bool knows_signs_ = false;     // those of earlier runs are among them
};

}  // namespace ingle
