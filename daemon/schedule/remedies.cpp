#include "daemon/schedule/remedies.hpp"

#include <algorithm>
#include <array>

#include "config/limits.hpp"
#include "config/no_vessel.hpp"
#include "daemon/food/classes.hpp"
#include "daemon/schedule/clock_text.hpp"
#include "daemon/schedule/hotter.hpp"
#include "daemon/schedule/solver.hpp"

namespace ingle::schedule {
namespace {

constexpr Seconds a_minute = 60, an_hour = 3600;
constexpr std::size_t most_steps = 3000;
constexpr int most_trials = 48;  // of the whole kitchen, for one conflict
constexpr std::array<Seconds, 12> shifts{5, 10, 15, 20, 30, 45, 60, 90, 120, 180, 240, 360};  // min
// Kept hot for longer it is dry: common practice, no source. Never below the class's limit for holding.
constexpr Seconds longest_hot_hold = 2 * an_hour;
// FDA Food Code 3-501.14(A): 135 to 70 degF within 2 h and to 41 degF within 6 h in all.
constexpr Seconds chilling = 6 * an_hour;
constexpr Temperature chilled_first{(70 - 32) / 1.8}, chilled{(41 - 32) / 1.8};
// From memory: FoodSafety.gov cold storage chart, leftovers 3 to 4 days.
constexpr Seconds longest_cold = 72 * an_hour;
constexpr double sure = 0.9;

Duration duration(Seconds s) {
    return Duration{static_cast<double>(s)};
}

Seconds rounded_up(Seconds s, Seconds to) {
    return (s + to - 1) / to * to;
}

// A name that no stage of the dish has yet.
std::string free_name(Wanted const& wanted, DishSettings const& dish, std::string name) {
    auto const stages = stages_of(wanted.settings, dish);
    while (std::ranges::any_of(stages, [&](StageOfDish const& one) { return one.settings->name == name; }))
        name += "-on";
    return name;
}

std::string hot_limit(Wanted const& wanted) {
    return show(Temperature{hot_hold_limits()[0].celsius()}, wanted.settings.units, 0);
}

Changed kept_hot(Wanted const& wanted, int dish, std::optional<Duration> exactly) {
    Changed change(wanted);
    StageSettings hold;
    hold.name = free_name(wanted, change.dish(dish), "keep-hot"), hold.does = Does::hot_hold;
    if (exactly)
        hold.until.time = exactly;
    else
        hold.at_most = duration(longest_hot_hold);
    change.add_stage(dish, std::move(hold), no_vessel);
    return change;
}

class Search {
public:
    Search(Wanted const& wanted, Trial const& trial, std::vector<DishJob> const& dishes,
           Conflict const& conflict)
        : wanted_(wanted),
          trial_(trial),
          dishes_(dishes),
          conflict_(conflict),
          problem_(problem_of(wanted, dishes, 0)) {}

    std::vector<std::string> all() {
        if (conflict_.about == About::vessel) other_vessels();
        if (conflict_.about == About::hands) helper(), longer_day();
        hotter();
        keep_hot();
        serve_at_another_time(1);
        if (dishes_.size() > 1) serve_at_another_time(-1);
        serve_cold();
        serve_as_it_is_ready();
        std::ranges::stable_sort(found_, {}, &Found::change);
        std::vector<std::string> texts;
        for (auto& one : found_) texts.push_back(std::move(one.text));
        return texts;
    }

private:
    struct Found {
        Seconds change = 0;  // how much it asks of the cook
        std::string text;
    };

    bool helps(Changed const& change) {
        if (wanted_.effort && wanted_.effort->spent()) return false;
        return trials_++ < most_trials && trial_.resolves(change, of());
    }
    std::vector<int> const& of() const { return conflict_.dishes; }
    DishSettings const& settings(int dish) const {
        return wanted_.settings.dishes[static_cast<std::size_t>(dish)];
    }
    // " at 17:00"; nothing where the zone is not known.
    std::string at_clock(Seconds t) const {
        return wanted_.zone_known ? " at " + clock_text(wanted_.zone, t, wanted_.at) : "";
    }
    FoodPhase last_phase(int dish) const {
        auto const stage = stages_of(wanted_.settings, settings(dish)).back();
        return phase_of(
            *stage.settings,
            stage.vessel < 0 ? nullptr : &wanted_.settings.vessels[static_cast<std::size_t>(stage.vessel)]);
    }

    void hotter() {
        constexpr Seconds attention = 15 * a_minute;  // to bring it there and to watch it
        for (auto const& dish : dishes_)
            for (auto& one : hotter_mediums(wanted_, dish))
                if (helps(one.change)) found_.push_back({attention, std::move(one.text)});
    }
    std::string served(int dish, Seconds t, Seconds by) const {
        return "serve " + settings(dish).name + at_clock(t) + (wanted_.zone_known ? ", " : " ") +
               show(duration(std::abs(by))) + (by > 0 ? " later" : " earlier");
    }
    // The dishes of the conflict alone would be in time then: without that nobody needs to try further.
    bool could_help(std::size_t j, Seconds by) const {
        auto changed = problem_;
        changed.jobs[j].serve_at += by;
        return changed.jobs[j].serve_at > wanted_.at && on_time(changed, most_steps).best;
    }
    void serve_at_another_time(int direction) {
        for (std::size_t j = 0; j < dishes_.size(); ++j) {
            if (!dishes_[j].serve_at) continue;
            for (auto const minutes : shifts) {
                auto const by = direction * minutes * a_minute, t = *dishes_[j].serve_at + by;
                if (t <= wanted_.at || !could_help(j, by)) continue;
                Changed change(wanted_);
                change.serve_at(dishes_[j].dish, t);
                if (!helps(change)) continue;
                found_.push_back({minutes * a_minute * 2, served(dishes_[j].dish, t, by)});
                break;
            }
        }
    }
    // Each dish that is late, when it can be ready among the others.
    void serve_as_it_is_ready() {
        auto const& before = trial_.before();
        std::vector<int> late;
        for (std::size_t d = 0; d < before.size(); ++d)
            if (before[d].late > 0 && before[d].possible) late.push_back(static_cast<int>(d));
        if (late.empty() || (late.size() == 1 && !found_.empty())) return;
        for (Seconds const step : {5 * a_minute, a_minute})
            if (serve_at_ends_of(late, step)) return;
    }
    bool serve_at_ends_of(std::vector<int> const& late, Seconds step) {
        Changed change(wanted_);
        std::string text;
        Seconds asked = 0;
        auto all = of();
        for (std::size_t k = 0; k < late.size(); ++k) {
            auto const was = *settings(late[k]).serve_at / 1000;
            auto const t = rounded_up(trial_.before()[static_cast<std::size_t>(late[k])].ready, step);
            change.serve_at(late[k], t);
            text += late.size() == 1       ? served(late[k], t, t - was)
                    : k == 0               ? "serve each when it can be ready: "
                    : k + 1 == late.size() ? " and "
                                           : ", ";
            if (late.size() > 1)
                text += settings(late[k]).name +
                        (wanted_.zone_known ? at_clock(t) : " " + show(duration(t - was)) + " later");
            asked += 2 * (t - was);
            all.push_back(late[k]);
        }
        if (!trial_.resolves(change, all)) return false;
        found_.push_back({asked, std::move(text)});
        return true;
    }

    // Hot food that comes out of the heat can be kept hot, in nothing that another dish needs.
    void keep_hot() {
        for (auto const& dish : dishes_) {
            auto const last = last_phase(dish.dish);
            if (dish.began || (last != FoodPhase::cooking && last != FoodPhase::reheating)) continue;
            auto const number = static_cast<std::size_t>(dish.dish);
            auto const longest = kept_hot(wanted_, dish.dish, {});
            if (!helps(longest)) continue;
            auto const held = rounded_up((*trial_.with(longest, of()))[number].last_stage, a_minute);
            auto const change = kept_hot(wanted_, dish.dish, duration(held));
            if (held <= 0 || !helps(change)) continue;
            auto const begin = (*trial_.with(change, of()))[number].begin;
            found_.push_back({held, "begin " + settings(dish.dish).name + " earlier" +
                                        (wanted_.zone_known ? "," + at_clock(begin) + "," : "") +
                                        " and keep it hot for " + show(duration(held)) + ", at " +
                                        hot_limit(wanted_) + " or above, until it is served"});
        }
    }
    void serve_cold() {
        auto const fridge =
            std::ranges::find(wanted_.settings.vessels, VesselKind::fridge, &VesselSettings::kind);
        if (fridge == wanted_.settings.vessels.end()) return;
        for (auto const& dish : dishes_) {
            auto const last = last_phase(dish.dish);
            if (dish.began || (last != FoodPhase::cooking && last != FoodPhase::resting)) continue;
            Changed change(wanted_);
            StageSettings chill;
            chill.name = free_name(wanted_, settings(dish.dish), "chill"), chill.does = Does::chill;
            chill.at_least = duration(chilling), chill.at_most = duration(longest_cold);
            change.add_stage(dish.dish, std::move(chill), fridge->name);
            if (!helps(change)) continue;
            auto const begin = (*trial_.with(change, of()))[static_cast<std::size_t>(dish.dish)].begin;
            auto const units = wanted_.settings.units;
            found_.push_back({2 * chilling, "cook " + settings(dish.dish).name + " earlier" +
                                                (wanted_.zone_known ? ", begun" + at_clock(begin) : "") +
                                                ", chill it in " + fridge->name + " (to " +
                                                show(chilled_first, units, 0) + " within 2 h, to " +
                                                show(chilled, units, 0) + " within 6 h) and serve it cold"});
        }
    }
    void other_vessels() {
        auto const& vessels = wanted_.settings.vessels;
        auto const& full = vessels[static_cast<std::size_t>(conflict_.vessel)];
        for (auto const& dish : dishes_) {
            if (dish.began) continue;  // its cook goes on by the plan that it began with
            auto const stages = stages_of(wanted_.settings, settings(dish.dish));
            for (std::size_t i = 0; i < stages.size(); ++i)
                for (std::size_t v = 0; v < vessels.size() && stages[i].vessel == conflict_.vessel; ++v) {
                    auto const& band = stages[i].settings->band;
                    bool const other =
                        static_cast<int>(v) != conflict_.vessel && vessels[v].kind == full.kind;
                    if (!other || (band && mistake_in_band(*band, vessels[v], wanted_.settings))) continue;
                    Changed change(wanted_);
                    change.put_into(dish.dish, i, static_cast<int>(v));
                    if (helps(change))
                        found_.push_back({a_minute, "put " + settings(dish.dish).name + " into " +
                                                        vessels[v].name + " for its stage " +
                                                        stages[i].settings->name});
                }
        }
    }
    void helper() {
        for (auto const& dish : dishes_) {
            auto const stages = stages_of(wanted_.settings, settings(dish.dish));
            for (std::size_t i = dish.first + (dish.began ? 1 : 0); i < stages.size(); ++i) {
                auto const& hands = stages[i].settings->hands;
                if (!hands || hands->seconds <= 0) continue;
                Changed change(wanted_);
                change.no_hands(dish.dish, i);
                if (!helps(change)) continue;
                found_.push_back({static_cast<Seconds>(hands->seconds) + 30 * a_minute,
                                  "have somebody else see to " + settings(dish.dish).name +
                                      " when its stage " + stages[i].settings->name + " begins, for " +
                                      show(*hands)});
            }
        }
    }
    void longer_day() {
        for (bool const evening : {false, true})
            for (auto const minutes : shifts) {
                Changed change(wanted_);
                change.longer_day(evening, minutes * a_minute);
                if (!helps(change)) continue;
                found_.push_back({minutes * a_minute + 30 * a_minute,
                                  "be there, or have somebody there, " + show(duration(minutes * a_minute)) +
                                      (evening ? " longer in the evening" : " earlier in the morning")});
                break;
            }
    }

    Wanted const& wanted_;
    Trial const& trial_;
    std::vector<DishJob> const& dishes_;
    Conflict const& conflict_;
    Problem problem_;
    std::vector<Found> found_;
    int trials_ = 0;
};

}  // namespace

std::vector<std::string> remedies(Wanted const& wanted, Trial const& trial,
                                  std::vector<DishJob> const& dishes, Conflict const& conflict) {
    return Search(wanted, trial, dishes, conflict).all();
}

std::vector<std::string> made_possible(Wanted const& wanted, Trial const& trial, DishJob const& dish) {
    std::vector<std::string> out;
    for (auto& one : hotter_mediums(wanted, dish)) {
        auto const after = trial.with(one.change, {dish.dish});
        if (!after) continue;
        auto const& standing = (*after)[static_cast<std::size_t>(dish.dish)];
        if (!standing.possible) continue;
        out.push_back(std::move(one.text) +
                      (standing.late > 0 ? ": then it can be done, though not in time" : ""));
    }
    return out;
}

std::vector<std::string> surer(Wanted const& wanted, Trial const& trial, DishJob const& dish) {
    bool const known = std::ranges::all_of(dish.lengths, &StageLength::known);
    if (dish.job.fixed || !known || trial.before().empty()) return {};
    auto const after = trial.with(kept_hot(wanted, dish.dish, {}), {dish.dish}, true);
    if (!after) return {};
    auto const number = static_cast<std::size_t>(dish.dish);
    auto const& standing = (*after)[number];
    auto const earlier = trial.before()[number].begin - standing.begin;
    if (!standing.possible || standing.late > 0 || standing.in_time < sure || earlier <= 0) return {};
    return {"end its plan with a hot-hold stage (" + hot_limit(wanted) + " or above) and begin " +
            wanted.settings.dishes[number].name + " " + show(duration(earlier)) +
            " earlier: then it is ready in time in 9 of 10"};
}

}  // namespace ingle::schedule
