// The logbook file as the writer's thread sees it: batches in, one transaction each. Not thread-safe; touches
// no clock. After a failed write the file is as before, but this object is not: close it and open it again.
#pragma once

#include <array>
#include <cstdint>
#include <map>
#include <optional>
#include <string>
#include <vector>

#include "daemon/logbook/batch.hpp"
#include "daemon/logbook/db.hpp"
#include "daemon/logbook/logbook.hpp"
#include "daemon/logbook/salvage.hpp"
#include "daemon/logbook/tail.hpp"

namespace ingle::logbook {

class Store {
public:
    explicit Store(WriterOptions const& options);

    // Opens or makes the file, brings it up to date, begins a run, reads what the last one left. False: see
    // take_failure, or `refused` (a sentence) for a file that must not be touched.
    bool open(Resumed& resumed);
    void close();
    bool is_open() const { return db_.is_open(); }
    Database& database() { return db_; }
    std::optional<Failure> take_failure() { return db_.take_failure(); }
    std::string const& refused() const { return refused_; }

    bool try_to_write();             // something, to know whether it works again
    bool write(Batch const& batch);  // one transaction
    // After a write that failed and an open that did not: whether that batch is in the file all the same, as
    // it is when only the last sync of it failed. Asked once.
    bool has_stored_it();
    // Leaves out what the file refuses and counts it.
    std::size_t write_one_by_one(Batch const& batch);

    bool seal_due(std::int64_t now) const;
    bool seal();
    bool end_run(std::int64_t at);  // a clean end; `at`: the newest stamp
    bool looks_sound();             // PRAGMA quick_check, if the file is small enough to wait for it

    // After damage, or with another file in the place of the logbook: what could be saved of the old one, and
    // the row that tells of it.
    bool adopt(Salvage const& salvage, std::int64_t at);
    // Puts in what was written in this run, whatever the file has become; false: nothing was.
    bool add_what_was_written(Salvage& salvage) const;

private:
    struct Slot {
        std::int64_t probe = 0, calibration = 0;
        std::int64_t fault = 0, t1 = 0, n = 0;  // the running spell's row; 0 = none
        bool moved = false;
    };
    struct Place {
        std::int64_t boot = 0, ms = 0;
    };

    enum Certainty { unknown, believed, proven };  // of a boot's offset, as the file has it

    using Newest = std::array<std::int64_t, 5>;  // rows of the tables that only grow by batches
    Newest newest_rows();
    void find_boot();
    void begin_run();
    void load(Resumed& resumed);
    void read_memory();
    std::int64_t end_of_boot(std::int64_t boot);
    Place place(std::int64_t at);
    void set_offset(ClockAnchor const& clock);
    void push_back_unproven();

    void write_readings(Batch const& batch);
    void begin_spell(Slot& slot, std::int64_t at, Fault const& fault);
    void extend_spell(Slot& slot, std::int64_t at);
    void write_spell(Slot& slot);
    Slot& slot(std::uint16_t number);
    void put(AlarmChanged const&);
    void put(Event const&);
    void put(Memory const&);
    void put(Anchored const&);
    void put(SlotMade const&);
    Slot& make_slot(SlotMade const&);  // without its calibration
    void find_calibration(Slot& slot, SlotMade const& made);
    void find_calibrations(Batch const& batch);
    void forget_rolled_back();
    void put(CookBegun const&);
    void put(CookEnded const&);
    void put(CookKept const&);
    void put(OutboxRow const&);
    void put(DeliveryAttempt const&);
    std::string name_of(Subject subject) const;
    void set_meta(char const* key, std::string const& value);

    WriterOptions const& options_;
    Database db_;
    std::string refused_;
    std::int64_t boot_ = 0, run_ = 0, offset_ms_ = 0;
    Anchored clock_;  // the best known of this boot
    int certainty_ = unknown;
    std::map<std::uint16_t, SlotMade> made_;  // survives close()
    std::map<std::uint16_t, Slot> slots_;
    std::map<std::string, std::string, std::less<>> stored_memory_;
    bool memory_known_ = false;  // that `stored_memory_` is what the file holds
    std::int64_t memory_boot_ = 0;
    std::map<std::string, OutboxRow> pending_;  // as the file has them, as are the next ones
    std::map<std::int64_t, CookBegun> running_;
    std::int64_t last_alarm_ = 0, last_cook_ = 0;
    std::optional<std::int64_t> tail_from_;  // oldest stamp in the tail; of another boot: INT64_MIN
    std::int64_t tail_readings_ = 0;
    std::optional<Newest> unsure_;      // before the write whose commit failed
    std::vector<TailReading> waiting_;  // reused by write_readings
};

}  // namespace ingle::logbook
