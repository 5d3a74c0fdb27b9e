#include "daemon/logbook/logbook.hpp"

#include <algorithm>
#include <atomic>
#include <chrono>
#include <condition_variable>
#include <map>
#include <mutex>
#include <thread>

#include "daemon/logbook/batch.hpp"
#include "daemon/logbook/boot_id.hpp"
#include "daemon/logbook/keeper.hpp"
#include "daemon/logbook/pack.hpp"

namespace ingle::logbook {
namespace {

using Steady = std::chrono::steady_clock;

constexpr Span longest_wait_for_turn{10'000};

std::int64_t ms(Instant at) {
    return at.time_since_epoch().count();
}

WriterOptions complete(WriterOptions options) {
    if (options.boot_id.empty()) options.boot_id = kernel_boot_id();
    return options;
}

}  // namespace

struct Writer::Impl {
    Impl(WriterOptions o, Callbacks c)
        : options(complete(std::move(o))), callbacks(std::move(c)), keeper(options, callbacks) {
        for (std::size_t i = 0; i < options.probes.size(); ++i)
            slots.push_back(static_cast<std::uint16_t>(i));
        faults.resize(slots.size());
        next_slot = slots.size();
        newest = ms(options.started);
        resumed = promise.get_future();
        thread = std::thread([this] { work(); });
    }

    void seen(Instant at) {
        std::lock_guard const lock(mutex);
        newest = std::max(newest, ms(at));
    }

    std::uint64_t push(Other other) {
        std::lock_guard const lock(mutex);
        if (queue.others.size() >= options.most_others) {
            queue.others.pop_front();
            if (queue.tried_others > 0) --queue.tried_others;
            ++lost_others;
        }
        queue.others.push_back(std::move(other));
        return wake(true);
    }

    std::uint64_t wake(bool at_once) {  // with the lock
        bool const first = queue.readings.size() + queue.others.size() + queue.memory.has_value() == 1;
        if (first) due = Steady::now() + options.commit_every;
        if (at_once) urgent = true;
        if (at_once || first) changed.notify_one();
        return ++queue.ticket;
    }

    // With the lock: gives up the oldest readings, and remembers which.
    void make_room(std::size_t for_new) {
        while (!queue.readings.empty() && queue.readings.size() + for_new > options.most_readings) {
            auto const oldest = queue.readings.front();
            lost_from = std::min(lost == 0 ? oldest.at : lost_from, oldest.at);
            lost_to = std::max(lost == 0 ? oldest.at : lost_to, oldest.at);
            ++lost;
            queue.readings.pop_front();
            if (queue.tried_readings > 0) --queue.tried_readings;
            if (!(oldest.flags & (ReadingItem::fault_begins | ReadingItem::rejected))) continue;
            auto reason = std::move(queue.reasons.front());
            queue.reasons.pop_front();
            if (queue.tried_reasons > 0) --queue.tried_reasons;
            if (oldest.flags & ReadingItem::fault_begins) begin_later(oldest.slot, std::move(reason));
        }
    }

    // A fault that goes on begins with the first reading of it that is kept.
    void begin_later(std::uint16_t slot, Reason reason) {
        std::ptrdiff_t before = 0;
        for (std::size_t i = 0; i < queue.readings.size(); ++i) {
            auto& item = queue.readings[i];
            if (item.slot == slot) {
                if (!(item.flags & ReadingItem::fault_goes_on)) return;
                item.flags = ReadingItem::fault_begins;
                queue.reasons.insert(queue.reasons.begin() + before, std::move(reason));
                if (i < queue.tried_readings) ++queue.tried_reasons;
                return;
            }
            if (item.flags & (ReadingItem::fault_begins | ReadingItem::rejected)) ++before;
        }
        dropped_begin[slot] = std::move(reason);  // none yet: the next one
    }

    bool wait_for_turn();
    void work();
    void restore(Batch&& batch);

    WriterOptions const options;
    Callbacks const callbacks;

    mutable std::mutex mutex;
    std::condition_variable changed, committed;
    Batch queue;  // under the mutex, as are the next ones
    Steady::time_point due{};
    bool urgent = false, stopping = false, stopped = false;
    bool waited_in_vain = false;  // for the file to open
    bool state_known = false;     // what the last run left is in the core
    std::optional<Trouble> trouble;
    std::optional<Instant> waits_since;  // for its turn
    std::size_t lost = 0, lost_others = 0, in_work = 0;
    std::int64_t lost_from = 0, lost_to = 0, newest = 0;
    std::size_t lost_ever = 0;
    std::map<std::uint16_t, Reason> dropped_begin;
    std::optional<Instant> last_commit;

    std::vector<std::uint16_t> slots;              // by probe; io thread, as the next two
    std::vector<std::optional<FaultKind>> faults;  // the running fault of each probe
    std::size_t next_slot = 0;

    std::atomic<std::uint64_t> durable{0};
    std::promise<Resumed> promise;
    std::future<Resumed> resumed;
    Keeper keeper;  // writer's thread only
    std::thread thread;
};

void Writer::Impl::restore(Batch&& batch) {
    // What came in meanwhile is newer.
    std::lock_guard const lock(mutex);
    batch.add(std::move(queue));
    queue = std::move(batch);
    in_work = 0;
    make_room(0);
}

bool Writer::Impl::wait_for_turn() {
    while (options.after.valid() &&
           options.after.wait_for(Span(waits_since ? 50 : 0)) != std::future_status::ready) {
        std::lock_guard const lock(mutex);
        if (stopping) return stopped = true, false;
        if (!waits_since) waits_since = BootClock::now();
    }
    std::lock_guard const lock(mutex);
    waits_since.reset();
    return true;
}

void Writer::Impl::work() {
    if (!wait_for_turn()) return promise.set_value({});
    {
        auto found = keeper.start();
        bool late = false;
        {
            std::lock_guard const lock(mutex);
            trouble = keeper.trouble();
            late = waited_in_vain && found.known;
            if (!late) promise.set_value(found);
        }
        if (late && callbacks.opened) callbacks.opened(std::move(found));
    }
    bool last_try = false;
    while (true) {
        Batch batch;
        std::int64_t newest_taken = 0;
        {
            std::unique_lock lock(mutex);
            auto const wait_until = [&] {
                if (keeper.must_wait()) return keeper.next_try();
                return queue.empty() ? Steady::now() + std::chrono::minutes(1) : due;
            };
            while (!stopping) {
                auto const until = wait_until();
                if (Steady::now() >= until) break;
                if (urgent && !keeper.must_wait()) break;
                if (changed.wait_until(lock, until) == std::cv_status::timeout) break;
            }
            last_try = stopping;
            urgent = false;
            std::swap(batch, queue);
            queue.ticket = batch.ticket;
            in_work = batch.readings.size();
            newest_taken = newest;
        }
        auto const ticket = batch.ticket;
        auto const at = BootClock::now();
        bool const written = keeper.write(batch, at);
        if (auto late = keeper.take_late(); late && callbacks.opened) callbacks.opened(std::move(*late));
        if (!written) restore(std::move(batch));
        if (written && keeper.was_in_trouble()) {
            Recovered r;
            {
                std::lock_guard const lock(mutex);
                r.lost = lost, r.lost_others = lost_others;
                if (lost) r.span = {Instant(Span(lost_from)), Instant(Span(lost_to))};
                lost_ever += lost;
                lost = lost_others = 0;
            }
            keeper.recovered(std::move(r), at);
        }
        if (written) {
            {
                std::lock_guard const lock(mutex);
                in_work = 0;
                trouble.reset();
                durable = ticket;
                last_commit = at;
            }
            committed.notify_all();
            if (callbacks.durable) callbacks.durable(ticket);
            keeper.tidy(newest_taken, at);
        }
        if (keeper.was_in_trouble()) {
            std::lock_guard const lock(mutex);
            trouble = keeper.trouble();
        }
        committed.notify_all();
        if (last_try) break;
    }
    std::lock_guard const lock(mutex);
    keeper.finish(Instant(Span(newest)));
    stopped = true;
    committed.notify_all();
}

Writer::Writer(WriterOptions options, Callbacks callbacks)
    : impl_(std::make_unique<Impl>(std::move(options), std::move(callbacks))) {}

Writer::~Writer() {
    stop();
}

Resumed Writer::resume(Span limit) {
    if (!impl_->resumed.valid()) return {};
    if (impl_->resumed.wait_for(limit) != std::future_status::ready) {
        std::lock_guard const lock(impl_->mutex);
        if (impl_->resumed.wait_for(Span(0)) != std::future_status::ready) {
            impl_->waited_in_vain = true;
            Resumed late;
            late.text = "the logbook " + impl_->options.path +
                        " does not open in time: another program holds it, or the card or disk is very slow";
            return late;
        }
    }
    auto found = impl_->resumed.get();
    if (found.known) taken_up();
    return found;
}

void Writer::taken_up() {
    std::lock_guard const lock(impl_->mutex);
    impl_->state_known = true;
}

std::uint64_t Writer::record(Recorded const& r) {
    auto& self = *impl_;
    auto const probe = static_cast<std::size_t>(r.probe);
    if (r.probe < 0 || probe >= self.slots.size()) return self.durable;
    ReadingItem item;
    item.at = ms(r.at);
    item.slot = self.slots[probe];
    std::optional<Reason> reason;
    auto& running = self.faults[probe];
    auto const value = r.raw ? r.raw : r.celsius;
    auto const units = value ? to_units(*value) : std::nullopt;
    if (r.quality == Quality::rejected || (r.quality != Quality::faulty && !units)) {
        item.flags = ReadingItem::rejected;
        reason = Reason{
            r.fault.value_or(Fault{FaultKind::out_of_range, "not a temperature that can be stored"}), value};
    } else if (r.quality == Quality::faulty) {
        auto const kind = r.fault ? r.fault->kind : FaultKind::unspecified;
        bool const same = running == kind;
        item.flags = same ? ReadingItem::fault_goes_on : ReadingItem::fault_begins;
        if (!same) reason = Reason{r.fault.value_or(Fault{}), {}};
        running = kind;
    } else {
        running.reset();
        item.units = *units;
        if (r.quality == Quality::doubtful) item.flags |= ReadingItem::doubtful;
        if (auto const cold = r.cold_junction ? to_units(*r.cold_junction) : std::nullopt) {
            item.flags |= ReadingItem::has_cold_junction;
            item.cold_junction = *cold;
        }
        if (r.word) item.flags |= ReadingItem::has_word, item.word = *r.word;
    }
    bool const at_once = (item.flags & ReadingItem::fault_begins) != 0;
    std::lock_guard const lock(self.mutex);
    self.make_room(1);
    self.newest = std::max(self.newest, item.at);
    self.queue.readings.push_back(item);
    if (auto const dropped = self.dropped_begin.find(item.slot); dropped != self.dropped_begin.end()) {
        if (item.flags & ReadingItem::fault_goes_on) {
            self.queue.readings.back().flags = ReadingItem::fault_begins;
            reason = std::move(dropped->second);
        }
        self.dropped_begin.erase(dropped);
    }
    if (reason) self.queue.reasons.push_back(std::move(*reason));
    return self.wake(at_once);
}

std::uint64_t Writer::record(AlarmChanged const& change) {
    impl_->seen(change.at);
    return impl_->push(change);
}
std::uint64_t Writer::record(Event const& event) {
    impl_->seen(event.at);
    return impl_->push(event);
}
std::uint64_t Writer::remember(Memory memory) {
    std::lock_guard const lock(impl_->mutex);
    if (!impl_->state_known) return never_durable;
    impl_->queue.memory = std::move(memory);
    return impl_->wake(true);
}
std::uint64_t Writer::anchor(Instant at, ClockAnchor clock) {
    return impl_->push(Anchored{ms(at), clock});
}
std::uint64_t Writer::calibrated(Instant at, int probe, std::vector<CalibrationPoint> points) {
    auto& self = *impl_;
    auto const p = static_cast<std::size_t>(probe);
    if (probe < 0 || p >= self.slots.size()) return self.durable;
    auto const slot = static_cast<std::uint16_t>(self.next_slot++);
    self.slots[p] = slot;
    self.faults[p].reset();
    return self.push(SlotMade{slot, probe, ms(at), std::move(points)});
}
std::uint64_t Writer::cook_begun(CookBegun cook) {
    return impl_->push(std::move(cook));
}
std::uint64_t Writer::cook_ended(std::int64_t id, Instant at) {
    return impl_->push(CookEnded{id, ms(at)});
}
std::uint64_t Writer::keep_cook(std::int64_t id, bool keep) {
    return impl_->push(CookKept{id, keep});
}
std::uint64_t Writer::put(OutboxRow row) {
    return impl_->push(std::move(row));
}
std::uint64_t Writer::record(DeliveryAttempt attempt) {
    return impl_->push(std::move(attempt));
}

void Writer::commit_now() {
    std::lock_guard const lock(impl_->mutex);
    impl_->urgent = true;
    impl_->changed.notify_one();
}

std::uint64_t Writer::durable() const {
    return impl_->durable;
}

bool Writer::flush(Span limit) {
    std::unique_lock lock(impl_->mutex);
    auto const ticket = impl_->queue.ticket;
    impl_->urgent = true;
    impl_->changed.notify_one();
    return impl_->committed.wait_for(lock, limit, [&] {
        return impl_->durable >= ticket || impl_->stopped;
    }) && impl_->durable >= ticket;
}

void Writer::stop(Span limit) {
    if (!impl_->thread.joinable()) return;
    flush(limit);
    {
        std::lock_guard const lock(impl_->mutex);
        impl_->stopping = true;
        impl_->changed.notify_one();
    }
    impl_->thread.join();
}

std::optional<Trouble> Writer::trouble() const {
    std::lock_guard const lock(impl_->mutex);
    if (auto const since = impl_->waits_since; since && BootClock::now() - *since >= longest_wait_for_turn)
        return Trouble{"what was read until the kitchen file was read anew is still not on the disk", *since};
    return impl_->trouble;
}

Counts Writer::counts() const {
    std::lock_guard const lock(impl_->mutex);
    Counts c;
    c.waiting = impl_->queue.readings.size() + impl_->in_work;
    c.lost = impl_->lost_ever + impl_->lost;
    c.last_commit = impl_->last_commit;
    c.bytes = impl_->keeper.bytes();
    return c;
}
}  // namespace ingle::logbook
