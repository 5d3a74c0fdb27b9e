// A begin, a next or an end that was not meant: the dish as the order found it is kept for a while, and takes
// its place again when the order is taken back. The record keeps both.
#include <algorithm>
#include <utility>

#include "daemon/kitchen/impl.hpp"
#include "daemon/watches/words.hpp"

namespace ingle {
namespace {

constexpr std::size_t most_orders = 6;
constexpr Span a_second = std::chrono::seconds(1);
constexpr Span taken_back_within = std::chrono::hours(2);

VesselOrders orders_of(VesselState const& vessel, Timers const& timers) {
    VesselOrders orders{vessel.held,    vessel.person_is_newer, vessel.kept,
                        vessel.emptied, vessel.hold_for,        {}};
    auto const timer = std::ranges::find(timers.all(), vessel.hold_timer, &TimerView::number);
    if (vessel.hold_timer != 0 && timer != timers.all().end() && !timer->over)
        orders.hold_until = timer->ends;
    return orders;
}

void put_orders(Memory& memory, std::string const& prefix, VesselOrders const& orders) {
    memory.put(prefix + "held", std::int64_t{orders.held.has_value()});
    if (orders.held && *orders.held) {
        memory.put(prefix + "low", (*orders.held)->low.celsius);
        memory.put(prefix + "high", (*orders.held)->high.celsius);
    }
    memory.put(prefix + "newer", std::int64_t{orders.person_is_newer});
    memory.put(prefix + "kept", std::int64_t{orders.kept});
    memory.put(prefix + "emptied", std::int64_t{orders.emptied});
    if (orders.hold_for) memory.put(prefix + "hold-for-ms", std::int64_t{orders.hold_for->count()});
    if (orders.hold_until) memory.put(prefix + "hold-until", *orders.hold_until);
}

std::string name_in(Settings const& settings, Subject subject) {
    auto const place = static_cast<std::size_t>(subject.number);
    switch (subject.kind) {
        case SubjectKind::probe:
            return settings.probes[place].name;
        case SubjectKind::vessel:
            return settings.vessels[place].name;
        case SubjectKind::dish:
            return settings.dishes[place].name;
        case SubjectKind::kitchen:
            break;
    }
    return {};
}

VesselOrders read_orders(Memory const& memory, std::string const& prefix) {
    auto const flag = [&](char const* key) { return memory.integer(prefix + key).value_or(0) != 0; };
    VesselOrders orders{{}, flag("newer"), flag("kept"), flag("emptied"), {}, {}};
    if (auto const length = memory.integer(prefix + "hold-for-ms")) orders.hold_for = Span(*length);
    orders.hold_until = memory.instant(prefix + "hold-until");
    if (!flag("held")) return orders;
    orders.held.emplace();
    auto const low = memory.number(prefix + "low"), high = memory.number(prefix + "high");
    if (low && high && *low < *high) *orders.held = Band{{*low}, {*high}};
    return orders;
}

}  // namespace

DishState Kitchen::Impl::copy_of(int number) const {
    auto const& dish = dishes[static_cast<std::size_t>(number)];
    DishState copy(settings, number);
    copy.cook = dish.cook;
    copy.probes = dish.probes;
    copy.fed = dish.fed;
    if (!dish.cook.begun() || !dish.ledger) return copy;
    Memory memory;
    dish.ledger->remember(memory, "");
    copy.ledger.emplace(ledger_settings(number), dish.cook.began_at());
    copy.ledger->recall(memory, "");
    return copy;
}

std::vector<VesselOrders> Kitchen::Impl::vessel_orders() const {
    std::vector<VesselOrders> all;
    for (auto const& vessel : vessels) all.push_back(orders_of(vessel, timers));
    return all;
}

Without Kitchen::Impl::without_order(int number, std::string_view order) const {
    return {std::string(order),
            now,
            copy_of(number),
            vessel_orders(),
            {},
            place_of_band(number),
            ended_at[static_cast<std::size_t>(number)],
            ended_for[static_cast<std::size_t>(number)]};
}

void Kitchen::Impl::keep(int number, Without&& one) {
    auto& given = without[static_cast<std::size_t>(number)];
    one.after = vessel_orders();
    given.push_back(std::move(one));
    if (given.size() > most_orders) given.erase(given.begin());
}

void Kitchen::Impl::drop_old_orders() {
    for (auto& given : without)
        std::erase_if(given, [&](Without const& one) { return now - one.given > taken_back_within; });
}

// The time of a hold runs on as it would have.
void Kitchen::Impl::give_time_back(int number, VesselOrders const& orders, Effects& out) {
    auto& vessel = vessels[static_cast<std::size_t>(number)];
    auto const& name = settings.vessels[static_cast<std::size_t>(number)].name;
    if (!orders.hold_for && !orders.hold_until) return;
    end_time_of_hold(vessel);
    vessel.hold_for = orders.hold_for;
    auto const left = orders.hold_until ? std::max(*orders.hold_until - now, a_second) : *orders.hold_for;
    if (orders.hold_until && !timers.start(now, left, held_as_asked(name), vessel.hold_timer).empty()) return;
    tell("note", {SubjectKind::vessel, number},
         name + " is held as you asked again: " + Words::in(left) + " more.", out);
}

// Bands that the order laid or ended are again as they were, unless somebody has said otherwise since.
void Kitchen::Impl::give_back(int number, Without&& one, Effects& out) {
    auto const before = vessels.size() == one.after.size() ? vessel_orders() : std::vector<VesselOrders>();
    struct Way {
        std::optional<Band> band, left;
        BandPhase phase;
        Instant since;
        int side;
    };
    std::vector<Way> ways;
    for (auto const& vessel : vessels)
        ways.push_back({vessel.band, vessel.left_band, vessel.phase, vessel.band_since, vessel.side});
    auto& dish = dishes[static_cast<std::size_t>(number)];
    dish = std::move(one.dish);
    if (dish.cook.begun()) live_through(number, one.given, {}, out);
    lay_bands(number);
    put_band_at(number, one.place);
    ended_at[static_cast<std::size_t>(number)] = one.ended;
    ended_for[static_cast<std::size_t>(number)] = one.ended_for;
    for (std::size_t v = 0; v < vessels.size(); ++v) {
        auto& vessel = vessels[v];
        if (!before.empty()) {
            bool const as_left = before[v].same_band(one.after[v]);
            auto const& orders = as_left ? one.before[v] : before[v];
            if (as_left && !one.before[v].same_band(one.after[v]))
                give_time_back(static_cast<int>(v), one.before[v], out);
            vessel.held = orders.held;
            vessel.person_is_newer = orders.person_is_newer;
            vessel.kept = orders.kept;
            vessel.emptied = orders.emptied;
        }
        vessel.needed = is_needed(static_cast<int>(v));
        settle_band(static_cast<int>(v));
        // As if it had not been: what had reached its band is not on its way to it.
        if (vessel.band && vessel.band == ways[v].left) vessel.phase = BandPhase::held;
        if (vessel.band != ways[v].band) continue;
        vessel.phase = ways[v].phase;
        vessel.band_since = ways[v].since;
        vessel.side = ways[v].side;
    }
}

void Kitchen::Impl::obey(Back const& back, Effects& out) {
    Subject const subject{SubjectKind::dish, back.dish};
    if (!here(subject, out)) return;
    auto const& name = settings.dishes[static_cast<std::size_t>(back.dish)].name;
    auto& given = without[static_cast<std::size_t>(back.dish)];
    if (given.empty())
        return refuse(subject, name + ": nothing to take back; a begin, a next or an end can be, for 2 h",
                      out);
    bool const cooks_again =
        given.back().dish.cook.begun() && !dishes[static_cast<std::size_t>(back.dish)].cook.begun();
    if (auto where = where_its_core_is(back.dish); cooks_again && !where.empty())
        return refuse(subject, name + ": " + where, out);
    auto one = std::move(given.back());
    given.pop_back();
    auto const order = std::exchange(one.order, {});
    auto const ago = now - one.given;
    auto const cook = dishes[static_cast<std::size_t>(back.dish)].cook.number();
    auto const began = dishes[static_cast<std::size_t>(back.dish)].cook.began_at();
    Effects since;
    give_back(back.dish, std::move(one), since);
    auto const& dish = dishes[static_cast<std::size_t>(back.dish)];
    auto const goes_on = dish.cook.begun()
                             ? std::string(dish.cook.stage_name()) +
                                   (dish.cook.waits_to_be_moved() ? " is over, as before" : " goes on")
                             : std::string("it counts as not begun");
    if (order == "begin") desk.forget(now, subject, out);
    Event event{now,
                "taken-back",
                subject,
                name + ": the " + order + " of " + Words::in(ago) + " ago is taken back; " + goes_on + ".",
                {{"cook", static_cast<double>(cook)}, {"given_s", seconds(ago)}}};
    if (!dish.cook.begun())
        event.numbers.insert(event.numbers.end(), {{"began_s", seconds(now - began)}, {"not_begun", 1}});
    out.push_back(std::move(event));
    for (auto& effect : since) out.push_back(std::move(effect));
    if (auto text = band_conflict(back.dish); !text.empty())
        tell("band-conflict", subject, std::move(text), out);
    for (auto const reminder :
         reminders.order_taken_back(back.dish, std::max(cook, dish.cook.number()), reminder_facts()))
        tell("note", subject,
             "reminder " + std::to_string(reminder) +
                 " is dropped: the stage at whose end it was is taken back.",
             out);
    changed(out);
}

void Kitchen::Impl::obey(NoteBack const&, Effects& out) {
    if (notes.empty()) return refuse({}, "there is no note to take back", out);
    auto const note = std::move(notes.back());
    notes.pop_back();
    out.push_back(Event{now,
                        "taken-back",
                        note.about,
                        "the note \"" + note.text + "\" is taken back.",
                        {{"note_s", seconds(now - note.at)}}});
    changed(out);
}

void Kitchen::Impl::remember_without(Memory& memory, int number, std::string const& prefix) const {
    auto const& given = without[static_cast<std::size_t>(number)];
    for (std::size_t i = 0; i < given.size(); ++i) {
        auto const& one = given[i];
        auto const below = prefix + std::to_string(i) + ".";
        memory.put(below + "order", one.order);
        memory.put(below + "given", one.given);
        memory.put(below + "place", one.place);
        if (one.ended) memory.put(below + "ended", *one.ended);
        if (one.ended_for) memory.put(below + "ended-for", *one.ended_for);
        one.dish.cook.remember(memory, below + "cook.");
        if (one.dish.cook.begun() && one.dish.ledger) one.dish.ledger->remember(memory, below + "food.");
        for (std::size_t v = 0; v < vessels.size(); ++v) {
            auto const vessel = below + "vessel." + settings.vessels[v].name + ".";
            put_orders(memory, vessel + "before.", one.before[v]);
            put_orders(memory, vessel + "after.", one.after[v]);
        }
    }
}

void Kitchen::Impl::recall_without(Memory const& memory, int number, std::string const& prefix,
                                   bool off_known) {
    auto& given = without[static_cast<std::size_t>(number)];
    for (std::size_t i = 0; i < most_orders; ++i) {
        auto const below = prefix + std::to_string(i) + ".";
        auto const order = memory.text(below + "order");
        if (!order) return;
        Without one{*order,
                    memory.instant(below + "given").value_or(now),
                    DishState(settings, number),
                    {},
                    {},
                    memory.integer(below + "place").value_or(0),
                    memory.instant(below + "ended"),
                    memory.integer(below + "ended-for")};
        one.dish.probes = dishes[static_cast<std::size_t>(number)].probes;
        one.dish.cook.recall(memory, below + "cook.");
        one.dish.fed = now;
        if (one.dish.cook.begun()) {
            one.dish.ledger.emplace(ledger_settings(number), one.dish.cook.began_at());
            one.dish.ledger->recall(memory, below + "food.");
            if (!off_known || !memory.is_placed(below + "food.begun"))
                one.dish.ledger->gap_of_unknown_length(now);
        }
        for (auto const& vessel : settings.vessels) {
            one.before.push_back(read_orders(memory, below + "vessel." + vessel.name + ".before."));
            one.after.push_back(read_orders(memory, below + "vessel." + vessel.name + ".after."));
        }
        given.push_back(std::move(one));
    }
}

void Kitchen::Impl::remember_notes(Memory& memory, std::string const& prefix) const {
    for (std::size_t i = 0; i < notes.size(); ++i) {
        auto const below = prefix + std::to_string(i) + ".";
        memory.put(below + "at", notes[i].at);
        memory.put(below + "text", notes[i].text);
        memory.put(below + "kind", static_cast<std::int64_t>(notes[i].about.kind));
        memory.put(below + "about", name_in(settings, notes[i].about));
    }
}

void Kitchen::Impl::recall_notes(Memory const& memory, std::string const& prefix) {
    for (std::size_t i = 0;; ++i) {
        auto const below = prefix + std::to_string(i) + ".";
        auto const at = memory.instant(below + "at");
        if (!at) return;
        auto const kind = static_cast<SubjectKind>(memory.integer(below + "kind").value_or(0));
        auto const name = memory.text(below + "about").value_or("");
        int const place = kind == SubjectKind::probe    ? number_of(settings.probes, name)
                          : kind == SubjectKind::vessel ? number_of(settings.vessels, name)
                          : kind == SubjectKind::dish   ? number_of(settings.dishes, name)
                                                        : -1;
        Subject const about = place < 0 ? Subject{} : Subject{kind, place};
        notes.push_back({*at, about, memory.text(below + "text").value_or("")});
    }
}

}  // namespace ingle
