// The inside of a Kitchen, shared by the .cpp files of this folder and nobody else. See kitchen.hpp.
#pragma once

#include <deque>
#include <map>
#include <memory>
#include <optional>
#include <set>
#include <span>
#include <string>
#include <utility>
#include <vector>

#include "config/civil_time/time_zone.hpp"
#include "daemon/alarms/alarm_desk.hpp"
#include "daemon/conditioning/conditioner.hpp"
#include "daemon/cook/cook.hpp"
#include "daemon/cook/reminders.hpp"
#include "daemon/cook/timers.hpp"
#include "daemon/food/classes.hpp"
#include "daemon/food/ledger.hpp"
#include "daemon/kitchen/band_silence.hpp"
#include "daemon/kitchen/kitchen.hpp"
#include "daemon/schedule/schedule.hpp"
#include "daemon/watches/registry.hpp"

namespace ingle {

template <class Situation>
struct Running {  // a watch at work on one subject
    WatchInfo const* info = nullptr;
    std::unique_ptr<WatchOf<Situation>> watch;
};

struct ProbeState {
    std::vector<Running<ProbeSituation>> watches;
    std::vector<int> companions;  // probes in the same medium
    int vessel = -1;              // whose medium it is
    bool is_core = false;
    std::optional<Instant> lost;  // since when there is no good value, once that was worth a word
};

struct StageBand {
    int dish = -1;
    Band band;
};

struct ToldForecast {
    Forecast forecast;
    Instant told_at{};
};

struct VesselState {
    std::vector<Running<VesselSituation>> watches;
    std::vector<int> probes;                  // that it is judged by
    std::optional<std::optional<Band>> held;  // what a person asked for; an empty band: nothing
    std::vector<StageBand> stages;            // bands of begun stages; whose dish came first, first
    bool person_is_newer = false;             // than the newest stage
    bool needed = false;                      // a stage of a begun dish happens in it
    bool kept = false;                        // its band was asked for while it was needed
    bool emptied = false;                     // the last such stage has ended, and nobody has kept the band
    std::optional<Span> hold_for;             // once the band is reached; a timer runs from then on
    std::int64_t hold_timer = 0;              // 0: none
    std::optional<Band> band;                 // what holds now
    BandPhase phase = BandPhase::none;
    std::optional<Band> left_band;  // the one before, where that had been reached
    Instant band_since{};
    int side = 0;                                     // of the band while warming up: -1 below, +1 above
    std::optional<Instant> inside_since, well_since;  // while warming up
    double boiling_c = 100;
    std::optional<double> boils_at;  // degC, seen
    std::optional<bool> door_switch_open;
    bool band_silenced = false, seems_open = false;
    BandSilence silence;
    bool lost_probe = false;  // an edit of the kitchen file took its medium probe while it was needed
    int doors = 0;            // openings that it has come back from
    double recovery_s = 0;    // that the newest took
    VesselResponse response;
    std::string advice;
    std::vector<ToldForecast> forecasts;  // newest of each kind
    Instant stepped{};                    // the second that its watches judged last
    VesselSummary summary;
    double sum_c = 0, count = 0;
};

struct DishState {
    explicit DishState(Settings const& settings, int dish) : cook(settings, dish) {}
    Cook cook;
    std::vector<int> probes;           // its cores
    std::optional<FoodLedger> ledger;  // of the newest run; kept after its end for the summary
    Instant fed{};                     // newest stamp the ledger was given
    std::optional<Forecast> forecast, cooling;
    std::optional<Instant> cooling_told;
    std::optional<std::vector<std::string>> helps;  // where it is late for its serving time: each tried
};

// What a person asked of a vessel, as far as an order to a dish can change it.
struct VesselOrders {
    std::optional<std::optional<Band>> held;
    bool person_is_newer = false, kept = false, emptied = false;
    // How long it was still to be held: once its band is reached, or until then.
    std::optional<Span> hold_for;
    std::optional<Instant> hold_until;

    bool same_band(VesselOrders const& other) const {
        return held == other.held && person_is_newer == other.person_is_newer && kept == other.kept &&
               emptied == other.emptied;
    }
};

// A dish as an order found it. When the order is taken back, it lives through what was read since.
struct Without {
    std::string order;  // "begin", "next" or "end"
    Instant given{};
    DishState dish;
    std::vector<VesselOrders> before, after;  // of all vessels, as the order found and as it left them
    std::int64_t place = 0;                   // of the dish among those that ask its vessel for a band
    std::optional<Instant> ended;             // when the dish's cook before had ended, as the order found it
    std::optional<std::int64_t> ended_for;    // and the serve-at that it was for
};

struct KeptReading {
    Instant at{};
    double celsius = 0;
    Quality quality = Quality::good;
};

struct PersonNote {
    Instant at{};
    Subject about;
    std::string text;
};

struct Kitchen::Impl {
    Impl(Settings s, Instant start);

    // probes.cpp
    void take(int probe, Reading const& reading, Effects& out);
    void condition(Instant at, Effects& out);
    void feed_dishes(Effects& out, std::size_t from);
    void step_probes(Effects& out);
    bool in_use(int probe) const;
    // kitchen.cpp
    void advance(Instant to, Effects& out);
    void tick(Effects& out);
    void begin_run(Effects& out);
    void know_the_time(ClockAnchor const& anchor);
    void changed(Effects& out);
    // vessels.cpp
    void settle_band(int vessel);
    std::optional<Span> end_time_of_hold(VesselState& vessel);
    void time_hold(int vessel, Effects& out);
    void give_time_back(int vessel, VesselOrders const& orders, Effects& out);
    void settle_boiling(int vessel);
    bool as_far_as_before(int vessel, Band const& before, Band const& now_asked) const;
    void step_phase(int vessel);
    void step_vessels(Effects& out);
    void tell_forecast(VesselState& vessel, Forecast forecast, Effects& out);
    std::string inside(int vessel) const;  // how warm its dishes are, as sentences
    // one_vessel.cpp
    std::string band_conflict(int dish) const;
    void judge_band_conflict(int dish);
    std::int64_t place_of_band(int dish) const;  // among those that ask its vessel for one; the last if none
    void put_band_at(int dish, std::int64_t place);
    // unwatched.cpp
    std::string why_unwatched(int vessel) const;
    void judge_unwatched();
    void remember_watched(Memory& memory, int vessel, std::string const& prefix) const;
    void recall_watched(Memory const& memory, int vessel, std::string const& prefix, Effects& out);
    // dishes.cpp
    void step_dishes(Effects& out);
    void absorb(int dish, CookOutput& cooked, Effects& out);
    LedgerSettings ledger_settings(int dish) const;
    void begin_ledger(int dish, Instant at);
    void stage_changed(int dish);
    void lay_bands(int dish);
    void tell_ledger(DishState& dish);
    CookSituation situation_of(int dish, bool laid = true);
    void feed(DishState& dish, Recorded const& row);
    // past.cpp
    void keep_recent(Recorded const& row);
    void live_through(int dish, Instant from, std::span<PastReading const> record, Effects& out);
    // taking_back.cpp
    DishState copy_of(int dish) const;
    std::vector<VesselOrders> vessel_orders() const;
    Without without_order(int dish, std::string_view order) const;
    void keep(int dish, Without&& without);
    void drop_old_orders();
    void give_back(int dish, Without&& without, Effects& out);
    void remember_without(Memory& memory, int dish, std::string const& prefix) const;
    void recall_without(Memory const& memory, int dish, std::string const& prefix, bool off_known);
    void remember_notes(Memory& memory, std::string const& prefix) const;
    void recall_notes(Memory const& memory, std::string const& prefix);
    bool is_needed(int vessel) const;
    std::string counted_by(int dish) const;
    void end_needless_bands(Effects& out);
    AtBand at_band(Cook const& cook, bool laid) const;
    void judge_food(int dish, Effects& out);
    // replanning.cpp
    void step_plans();
    void judge_begin(int dish, std::int64_t at_s, Finding& finding) const;
    void find_helps(int dish);
    schedule::Wanted wanted_at(std::int64_t at_s) const;
    std::unique_ptr<PlannedTimes> planned_times = std::make_unique<PlannedTimes>();
    std::vector<DishView> dish_views() const;  // view.cpp
    // serving_times.cpp
    void obey(ServeAt const& serve, Effects& out);
    void remember_serving_times(Memory& memory) const;
    void recall_serving_times(Memory const& memory);
    // reminding.cpp
    void obey(Remind const& remind, Effects& out);
    void obey(StopReminder const& reminder, Effects& out);
    ReminderFacts reminder_facts() const;
    void place_reminders();  // after the recall
    std::optional<GoodReading> good_reading(Subject about) const;
    std::optional<Subject> find_subject(std::string const& kind_and_name) const;
    // commands.cpp
    void command(Command const& command, Effects& out);
    void refuse(Subject about, std::string sentence, Effects& out);
    bool known(Subject subject) const;
    bool here(Subject subject, Effects& out);
    void tell(std::string name, Subject about, std::string text, Effects& out);
    template <class Act>
    void with_dish(int number, std::string_view order, Effects& out, Act act);
    void obey(Hold const& hold, Effects& out);
    std::string where_its_core_is(int number) const;
    std::string shared_cores() const;  // "" = none
    void obey(Begin const& begin, Effects& out);
    void obey(Next const& next, Effects& out);
    void obey(End const& end, Effects& out);
    void obey(Note const& note, Effects& out);
    void obey(StartTimer const& timer, Effects& out);
    void obey(StopTimer const& timer, Effects& out);
    void obey(Acknowledge const& acknowledge, Effects& out);
    void obey(Shelve const& shelve, Effects& out);
    void obey(OutOfService const& service, Effects& out);
    void obey(ClockAnchor const& anchor, Effects& out);
    void obey(Switch const& lid, Effects& out);
    void obey(PressureNow const& pressure, Effects& out);
    void obey(KitchenTrouble const& trouble, Effects& out);
    void obey(DriverEvent const& event, Effects& out);
    void obey(Calibrate const& calibrate, Effects& out);
    void obey(Back const& back, Effects& out);
    void obey(NoteBack const& back, Effects& out);

    // left_behind.cpp
    void leave_behind(Memory const& memory, Effects& out);
    void stop_holds_left_behind(Memory const& memory);
    std::string no_longer_held(int vessel, bool was_watched) const;
    void lay_missing_bands(int vessel, Effects& out);
    void tell_dropped(Effects const& out);
    void trouble_unseen();  // after the recall
    void trouble_seen();    // after an acknowledgement
    // orders.cpp
    void settle_orders();  // of this tick's findings

    void judge(Subject subject, Finding&& finding, std::span<int const> probes,
               std::string_view muted_by = {});

    Settings settings;
    Instant now, next_tick;
    bool started = false;
    std::vector<Conditioner> conditioners;
    std::vector<Signal> signals;  // as of the newest tick
    std::vector<ProbeState> probes;
    std::vector<VesselState> vessels;
    std::vector<DishState> dishes;
    std::vector<std::vector<Without>> without;    // of each dish, for its newest orders, the newest last
    std::vector<std::deque<KeptReading>> recent;  // of each probe: for a cook that is begun afterwards
    std::vector<PersonNote> notes;                // that can be taken back, the newest last
    Timers timers;
    Reminders reminders{settings.units};
    std::optional<TimeZone> zone;  // of the cook's hours; empty: the kitchen file names none
    // Of each dish, what the kitchen file says; what was said since stands in the settings.
    std::vector<std::optional<std::int64_t>> filed_serve_at;
    std::vector<std::optional<std::int64_t>> ended_for;  // of each dish: the serve-at of its last ended cook
    std::vector<std::optional<Instant>> ended_at;        // of each dish: when its last cook ended
    std::vector<Finding> begins;  // of each dish that is yet to be begun: whether its begin is passing
    std::vector<std::int64_t>
        under_way;  // of each dish, the stage that it is in as the begins were judged; -1
    std::int64_t under_way_since_s = 0;
    AlarmDesk desk;
    int room_probe = -1;

    std::optional<Pressure> measured_pressure;
    std::optional<std::int64_t> wall_offset_ms;
    bool clock_certain = false, clock_proven = false;
    std::map<std::string, std::string, std::less<>> troubles;  // alarm name -> text, while present
    std::map<std::string, std::set<std::string>, std::less<>> in_trouble;  // whom the alarm named so far
    std::int64_t last_cook = 0;
    Memory left_behind;  // of what is not in the kitchen file any more: for when it is again
    bool memory_dirty = false;
    Instant remembered{};

    std::vector<Judged> judged;  // of this tick
    std::vector<char> doubted;   // probes that a watch of this tick doubts
    WatchOutput watched;         // reused, so that a quiet second allocates nothing
};

// What they are held at, all of them or as many as can be; and whether this dish cannot have its own.
std::optional<Band> band_of_stages(std::span<StageBand const> stages);
bool asks_for_another(std::span<StageBand const> stages, int dish);

std::string held_as_asked(std::string const& vessel);  // what the timer of a hold says

bool contradicted(Forecast const& forecast, Signal const* medium);

std::span<AlarmType const> kitchen_alarms();
std::span<AlarmType const> food_alarms();
std::span<AlarmType const> conflict_alarms();
std::span<AlarmType const> unwatched_alarms();
AlarmType const* find_type(std::span<AlarmType const> types, std::string_view name);

}  // namespace ingle
