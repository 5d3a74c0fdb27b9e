#include "daemon/logbook/cook_places.hpp"

#include <algorithm>
#include <chrono>
#include <utility>

#include "config/did_you_mean.hpp"
#include "config/load.hpp"

namespace ingle::logbook {
namespace {

double since_began(CookRow const& cook, Moment const& moment) {
    return seconds(moment.wall - cook.began.wall);
}

DishSettings const* dish_of(Settings const& settings, std::string const& name) {
    auto const found = std::ranges::find(settings.dishes, name, &DishSettings::name);
    return found == settings.dishes.end() ? nullptr : &*found;
}

// 0: no such dish, 1: without a probe in its core, 2: with one.
int knows(Settings const& settings, CookRow const& cook) {
    auto const* dish = dish_of(settings, cook.dish);
    return !dish ? 0 : dish->core < 0 ? 1 : 2;
}

template <class Items>
std::string name_at(Items const& items, int number) {
    auto const place = static_cast<std::size_t>(number);
    return number >= 0 && place < items.size() ? items[place].name : std::string();
}

// Where a dish and its probes are, from change to change.
class Tracker {
public:
    explicit Tracker(CookRow const& cook) : cook_(cook) {}

    bool anywhere() const { return staged_; }

    // What is in its core from now on.
    void cores(Settings const& settings, DishSettings const& dish, Moment const& at) {
        auto const probes = cores_of(dish);
        std::vector<Place> now;
        for (std::size_t i = 0; i < probes.size(); ++i)
            if (auto name = name_at(settings.probes, probes[i]); !name.empty())
                now.push_back({"", std::move(name), at, {}, static_cast<int>(i)});
        auto const same_as = [](Place const& other) {
            return [&](Place const& one) {
                return !one.to && one.probe == other.probe && one.core == other.core;
            };
        };
        for (auto& one : out_.cores)
            if (!one.to && std::ranges::none_of(now, same_as(one))) one.to = at;
        for (auto& one : now)
            if (std::ranges::none_of(out_.cores, same_as(one))) out_.cores.push_back(std::move(one));
    }
    void stage(Settings const& settings, DishSettings const& dish, int vessel, Moment const& at) {
        staged_ = true;
        goes_with_dish_ = vessel == dish.vessel;
        enter(settings, vessel, at);
    }
    // A vessel of another kitchen file: where the dish is said to be, unless its stage has one of its own.
    void kitchen(Settings const& settings, DishSettings const& dish, Moment const& at) {
        if (!staged_) return;
        auto const vessels = names_of(settings.vessels);
        auto const same = std::ranges::find(vessels, in_);
        enter(settings, goes_with_dish_ ? dish.vessel : static_cast<int>(same - vessels.begin()), at);
    }
    ReadWith finish() {
        for (auto* list : {&out_.cores, &out_.vessels})
            for (auto& one : *list)
                if (!one.to) one.to = cook_.ended;
        return std::move(out_);
    }

private:
    static std::vector<int> cores_of(DishSettings const& dish) {
        std::vector<int> all{dish.core};
        all.insert(all.end(), dish.more_cores.begin(), dish.more_cores.end());
        return all;
    }
    void enter(Settings const& settings, int vessel, Moment const& at) {
        in_ = name_at(settings.vessels, vessel);
        auto const probe =
            in_.empty() ? ""
                        : name_at(settings.probes, settings.vessels[static_cast<std::size_t>(vessel)].medium);
        bool const inside = !out_.vessels.empty() && !out_.vessels.back().to;
        if (inside && out_.vessels.back().vessel == in_ && out_.vessels.back().probe == probe) return;
        if (inside) out_.vessels.back().to = at;
        if (!in_.empty()) out_.vessels.push_back({in_, probe, at, {}, -1});
    }

    CookRow const& cook_;
    ReadWith out_;
    bool staged_ = false, goes_with_dish_ = false;
    std::string in_;  // the vessel; "" = none
};

}  // namespace

std::optional<double> number_in(EventRow const& event, std::string_view key) {
    for (auto const& [name, value] : event.numbers)
        if (name == key) return value;
    return std::nullopt;
}

Settings settings_at(Reader& reader, WallTime when) {
    auto const text = reader.settings_at(when);
    return text.empty() ? Settings{} : parse_kitchen(text, "logbook").settings;
}

OwnEvents::OwnEvents(CookRow const& cook, Window window, std::vector<EventRow> const& taken_back)
    : cook_(cook), window_(window) {
    for (auto const& event : taken_back) {
        auto const given_s = number_in(event, "given_s");
        bool const within = event.at.wall >= window.from && event.at.wall < window.to;
        if (event.subject != cook.dish || !given_s || !within) continue;
        double const at = since_began(cook, event.at);
        taken_back_.emplace_back(at - *given_s, at);
    }
}

bool OwnEvents::count(EventRow const& event) const {
    bool const within = event.at.wall >= window_.from && event.at.wall < window_.to;
    if (event.subject != cook_.dish || !within) return false;
    // Of another cook: one that was begun afterwards and taken back has its stages within this one.
    auto const cook = number_in(event, "cook");
    if (cook && static_cast<std::int64_t>(*cook) != cook_.id) return false;
    if (number_in(event, "afterwards")) return true;
    constexpr double same_s = 0.002;  // stamps are whole milliseconds
    double const at = since_began(cook_, event.at);
    return std::ranges::none_of(
        taken_back_, [&](auto const& span) { return at >= span.first - same_s && at < span.second; });
}

CookPlaces::CookPlaces(Reader& reader, Window window)
    : reader_(reader),
      stages_(reader.events(window, "stage-began")),
      taken_back_(reader.events(window, "taken-back")) {}

Settings const& CookPlaces::settings_at(WallTime when) {
    return settings_of_text(reader_.settings_at(when));
}

Settings const& CookPlaces::settings_of_text(std::string const& text) {
    auto const known = parsed_.find(text);
    if (known != parsed_.end()) return known->second;
    auto settings = text.empty() ? Settings{} : parse_kitchen(text, "logbook").settings;
    return parsed_.emplace(text, std::move(settings)).first->second;
}

Settings const& CookPlaces::settings_of(CookRow const& cook) {
    auto const& at_begin = settings_at(cook.began.wall);
    if (knows(at_begin, cook) == 2) return at_begin;
    auto const now = std::chrono::floor<std::chrono::milliseconds>(std::chrono::system_clock::now());
    auto const& later = settings_at(cook.ended ? cook.ended->wall : now);
    return knows(later, cook) > knows(at_begin, cook) || at_begin.name.empty() ? later : at_begin;
}

std::optional<ReadWith> CookPlaces::read_with(CookRow const& cook) {
    auto const& settings = settings_of(cook);
    auto const* dish = dish_of(settings, cook.dish);
    if (!dish) return std::nullopt;
    auto const window = reader_.window_of(cook);
    OwnEvents const own(cook, window, taken_back_);
    Tracker tracker(cook);
    tracker.cores(settings, *dish, cook.began);
    bool core_named = knows(settings_at(cook.began.wall), cook) == 2;
    auto changes = reader_.settings_during(window);
    auto change = changes.begin();
    auto const take_changes_until = [&](WallTime until) {
        for (; change != changes.end() && change->first.wall < until; ++change) {
            auto const& then = settings_of_text(change->second);
            auto const* dish_then = dish_of(then, cook.dish);
            if (!dish_then) continue;
            core_named = core_named || knows(then, cook) == 2;
            if (core_named) tracker.cores(then, *dish_then, change->first);
            tracker.kitchen(then, *dish_then, change->first);
        }
    };
    for (auto const& event : stages_) {
        if (!own.count(event)) continue;
        take_changes_until(event.at.wall);
        auto const& then = settings_at(event.at.wall);
        auto const* dish_then = dish_of(then, cook.dish);
        auto const& of = dish_then ? *dish_then : *dish;
        // Without the number it is in none; an older logbook has no numbers of a stage at all.
        auto const otherwise = number_in(event, "of") ? -1 : of.vessel;
        tracker.stage(then, of, static_cast<int>(number_in(event, "vessel").value_or(otherwise)), event.at);
    }
    // Of a cook that was begun before this file, no stage is told.
    if (!tracker.anywhere()) tracker.stage(settings, *dish, dish->vessel, cook.began);
    take_changes_until(window.to);
    return tracker.finish();
}

}  // namespace ingle::logbook
