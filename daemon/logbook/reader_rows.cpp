// Reader: events, alarms, cooks, notices, settings.
#include "daemon/logbook/reader_impl.hpp"
#include "daemon/model/effects.hpp"

namespace ingle::logbook {
namespace {

constexpr std::int64_t first_version_with_attempts = 4;

std::int64_t ms(WallTime at) {
    return at.time_since_epoch().count();
}

}  // namespace

std::vector<EventRow> Reader::events(Window window, std::string const& name) {
    std::vector<EventRow> out;
    impl_->read([&] {
        auto& self = *impl_;
        auto& row =
            self.db
                .prepared(
                    "SELECT e.id, e.boot, e.boot_ms, e.name, e.subject_kind, e.subject, e.text, e.numbers"
                    " FROM event e JOIN boot b ON b.id=e.boot WHERE b.offset_ms+e.boot_ms>=?"
                    " AND b.offset_ms+e.boot_ms<? AND (e.name=?3 OR ?3='' AND e.name!=?4) ORDER BY e.boot, "
                    "e.boot_ms, e.id")
                .with(ms(window.from), ms(window.to), name, kept_forecast);
        while (row.step()) {
            EventRow e{row.integer(0),
                       self.moment(row.integer(1), row.integer(2)),
                       row.text(3),
                       row.text(4),
                       row.text(5),
                       row.text(6),
                       {}};
            if (!row.null(7)) {
                Statement each(self.db, "SELECT key, value FROM json_each(?)");
                auto const numbers = row.text(7);
                each.with(numbers);
                while (each.step())
                    if (!each.null(1)) e.numbers.emplace_back(each.text(0), each.real(1));
            }
            out.push_back(std::move(e));
        }
    });
    return out;
}

std::vector<AlarmRow> Reader::alarms(Window window) {
    std::vector<AlarmRow> out;
    impl_->read([&] {
        auto& self = *impl_;
        auto& row =
            self.db
                .prepared(
                    "SELECT a.boot, a.boot_ms, a.alarm, a.name, a.subject_kind, a.subject, a.change, a.state,"
                    " a.priority, a.text, a.who, a.active, a.worst, a.spells FROM alarm_change a"
                    " JOIN boot b ON b.id=a.boot WHERE b.offset_ms+a.boot_ms>=? AND b.offset_ms+a.boot_ms<?"
                    " ORDER BY a.boot, a.boot_ms, a.id")
                .with(ms(window.from), ms(window.to));
        while (row.step())
            out.push_back({self.moment(row.integer(0), row.integer(1)), row.integer(2), row.text(3),
                           row.text(4), row.text(5), row.text(6), row.text(7), row.text(8), row.text(9),
                           row.text(10), row.integer(11) != 0, row.real(12), row.small(13)});
    });
    return out;
}

std::vector<CookRow> Reader::cooks() {
    std::vector<CookRow> out;
    impl_->read([&] {
        auto& self = *impl_;
        auto& row =
            self.db
                .prepared(
                    "SELECT id, dish, food, plan, zone, began_boot, began_ms, ended_boot, ended_ms, kept"
                    " FROM cook ORDER BY began_boot DESC, began_ms DESC, id DESC")
                .with();
        while (row.step()) {
            CookRow cook{row.integer(0),
                         row.text(1),
                         row.text(2),
                         row.text(3),
                         row.text(4),
                         self.moment(row.integer(5), row.integer(6)),
                         {},
                         row.integer(9) != 0};
            if (!row.null(7)) cook.ended = self.moment(row.integer(7), row.integer(8));
            out.push_back(std::move(cook));
        }
        auto& back = self.db
                         .prepared(
                             "SELECT DISTINCT json_extract(numbers, '$.cook') FROM event"
                             " WHERE name='taken-back' AND json_extract(numbers, '$.not_begun') > 0")
                         .with();
        while (back.step())
            for (auto& cook : out) cook.taken_back = cook.taken_back || cook.id == back.integer(0);
    });
    return out;
}

std::optional<CookRow> Reader::cook(std::int64_t id) {
    for (auto& cook : cooks())
        if (cook.id == id) return std::move(cook);
    return std::nullopt;
}

Window Reader::window_of(CookRow const& cook) {
    Window window{cook.began.wall, cook.began.wall + Span(1)};
    if (cook.ended)
        window.to = cook.ended->wall + Span(1);
    else if (auto const all = extent(); all && all->to > window.to)
        window.to = all->to;
    return window;
}

std::vector<NoticeRow> Reader::notices(Window window) {
    std::vector<NoticeRow> out;
    impl_->read([&] {
        auto& self = *impl_;
        auto& row =
            self.db
                .prepared(
                    "SELECT o.id, o.channel, o.kind, o.body, o.state, o.error, o.boot, o.boot_ms, "
                    "o.done_boot,"
                    " o.done_ms, o.attempts FROM outbox o JOIN boot b ON b.id=o.boot"
                    " WHERE o.state='pending' OR (b.offset_ms+o.boot_ms>=? AND b.offset_ms+o.boot_ms<?)"
                    " ORDER BY o.rowid")
                .with(ms(window.from), ms(window.to));
        while (row.step()) {
            NoticeRow n{row.text(0),
                        row.text(1),
                        row.text(2),
                        row.text(3),
                        row.text(4),
                        row.text(5),
                        self.moment(row.integer(6), row.integer(7)),
                        {},
                        row.small(10)};
            if (!row.null(8)) n.done = self.moment(row.integer(8), row.integer(9));
            out.push_back(std::move(n));
        }
        if (self.db.number("PRAGMA user_version") < first_version_with_attempts) return;
        for (auto& notice : out) {
            auto& tried =
                self.db
                    .prepared("SELECT boot, boot_ms, outcome, reason FROM attempt WHERE notice=? ORDER BY id")
                    .with(notice.id);
            while (tried.step())
                notice.tries.push_back(
                    {self.moment(tried.integer(0), tried.integer(1)), tried.text(2), tried.text(3)});
        }
    });
    return out;
}

std::vector<std::pair<std::string, Moment>> Reader::last_delivered() {
    std::vector<std::pair<std::string, Moment>> out;
    impl_->read([&] {
        auto& row = impl_->db
                        .prepared(
                            "SELECT channel, done_boot, done_ms, max(rowid) FROM outbox"
                            " WHERE state='sent' AND done_boot IS NOT NULL GROUP BY channel")
                        .with();
        while (row.step()) out.emplace_back(row.text(0), impl_->moment(row.integer(1), row.integer(2)));
    });
    return out;
}

std::vector<DamagedCopy> Reader::damaged() {
    std::vector<DamagedCopy> out;
    impl_->read([&] {
        auto& row =
            impl_->db.prepared("SELECT file, boot, boot_ms, what, cooks FROM damaged ORDER BY id").with();
        while (row.step())
            out.push_back(
                {row.text(0), impl_->moment(row.integer(1), row.integer(2)), row.text(3), row.text(4)});
    });
    return out;
}

std::string Reader::settings_at(WallTime when) {
    std::string out;
    impl_->read([&] {
        auto& row =
            impl_->db
                .prepared(
                    "SELECT s.text FROM run r JOIN boot b ON b.id=r.boot JOIN setting s ON s.id=r.setting"
                    " WHERE b.offset_ms+r.started_ms<=? ORDER BY r.id DESC LIMIT 1")
                .with(ms(when));
        if (row.step()) out = row.text(0);
        row.reset();
    });
    return out;
}

std::vector<std::pair<Moment, std::string>> Reader::settings_during(Window window) {
    std::vector<std::pair<Moment, std::string>> out;
    impl_->read([&] {
        auto& row = impl_->db
                        .prepared(
                            "SELECT r.boot, r.started_ms, s.text FROM run r JOIN boot b ON b.id=r.boot"
                            " JOIN setting s ON s.id=r.setting"
                            " WHERE b.offset_ms+r.started_ms>=? AND b.offset_ms+r.started_ms<? ORDER BY r.id")
                        .with(ms(window.from), ms(window.to));
        while (row.step()) out.emplace_back(impl_->moment(row.integer(0), row.integer(1)), row.text(2));
        row.reset();
    });
    return out;
}

}  // namespace ingle::logbook
