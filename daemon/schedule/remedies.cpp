#include "daemon/schedule/remedies.hpp"

#include <algorithm>
#include <array>

#include "config/limits.hpp"
#include "daemon/food/classes.hpp"
#include "daemon/schedule/chance.hpp"
#include "daemon/schedule/conflicts.hpp"
#include "daemon/schedule/hotter.hpp"
#include "daemon/schedule/solver.hpp"

namespace ingle::schedule {
namespace {

constexpr Seconds a_minute = 60, an_hour = 3600;
constexpr std::size_t most_steps = 3000;
constexpr std::array<Seconds, 12> shifts{5, 10, 15, 20, 30, 45, 60, 90, 120, 180, 240, 360};  // min
// Kept hot for longer it is dry: common practice, no source. Never below the class's limit for holding.
constexpr Seconds longest_hot_hold = 2 * an_hour;
// FDA Food Code 3-501.14(A): 135 to 70 degF within 2 h and to 41 degF within 6 h in all.
constexpr Seconds chilling = 6 * an_hour;
// From memory: FoodSafety.gov cold storage chart, leftovers 3 to 4 days.
constexpr Seconds longest_cold = 72 * an_hour;
constexpr double sure = 0.9;

class Trial {
public:
    Trial(Wanted const& wanted, std::vector<DishJob> const& dishes, Conflict const& conflict)
        : wanted_(wanted), dishes_(dishes), conflict_(conflict), problem_(problem_of(wanted, dishes, 0)) {}

    std::vector<std::string> all() {
        if (conflict_.about == About::vessel) other_vessels();
        if (conflict_.about == About::hands) helper(), longer_day();
        hotter();
        keep_hot();
        serve_at_another_time(1);
        if (dishes_.size() > 1) serve_at_another_time(-1);
        serve_cold();
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

    std::optional<Solution> fits(Problem const& problem) const { return on_time(problem, most_steps).best; }
    DishSettings const& settings(std::size_t j) const {
        return wanted_.settings.dishes[static_cast<std::size_t>(dishes_[j].dish)];
    }
    std::string length(Seconds s) const { return show(Duration{static_cast<double>(s)}); }
    // " at 17:00"; nothing where the zone is not known.
    std::string at_clock(Seconds t) const {
        if (!wanted_.zone_known) return "";
        auto const local = wanted_.zone.local(WallTime(std::chrono::seconds(t)));
        auto const minutes =
            std::chrono::floor<std::chrono::minutes>(local.time_since_epoch()).count() % 1440;
        auto const two = [](auto n) { return (n < 10 ? "0" : "") + std::to_string(n); };
        return " at " + two(minutes / 60) + ":" + two(minutes % 60);
    }
    std::string stage_name(std::size_t j, std::size_t i) const {
        return stages_of(wanted_.settings, settings(j))[dishes_[j].first + i].settings->name;
    }
    FoodPhase phase(std::size_t j, std::size_t i) const {
        auto const stage = stages_of(wanted_.settings, settings(j))[dishes_[j].first + i];
        return phase_of(
            *stage.settings,
            stage.vessel < 0 ? nullptr : &wanted_.settings.vessels[static_cast<std::size_t>(stage.vessel)]);
    }

    void hotter() {
        constexpr Seconds attention = 15 * a_minute;  // to bring it there and to watch it
        for (std::size_t j = 0; j < dishes_.size(); ++j)
            for (auto& one : hotter_mediums(wanted_, dishes_[j])) {
                auto changed = problem_;
                changed.jobs[j] = one.job.job;
                if (fits(changed)) found_.push_back({attention, std::move(one.text)});
            }
    }
    void serve_at_another_time(int direction) {
        for (std::size_t j = 0; j < dishes_.size(); ++j) {
            if (!dishes_[j].serve_at) continue;
            for (auto const minutes : shifts) {
                auto changed = problem_;
                changed.jobs[j].serve_at += direction * minutes * a_minute;
                if (changed.jobs[j].serve_at <= wanted_.at || !fits(changed)) continue;
                found_.push_back({minutes * a_minute * 2,
                                  "serve " + settings(j).name + at_clock(changed.jobs[j].serve_at) + ", " +
                                      length(minutes * a_minute) + (direction > 0 ? " later" : " earlier")});
                break;
            }
        }
        if (direction > 0 && dishes_.size() == 1 && found_.empty()) serve_as_soon_as_can_be();
    }
    void serve_as_soon_as_can_be() {
        auto const soonest = least_late(problem_, horizon(), most_steps);
        if (!soonest.best) return;
        auto const ready = soonest.best->times[0].back();
        found_.push_back({ready - problem_.jobs[0].serve_at,
                          "serve " + settings(0).name + " " + length(ready - problem_.jobs[0].serve_at) +
                              " later" + (wanted_.zone_known ? "," : "") + at_clock(ready)});
    }
    Seconds horizon() const { return horizon_of(wanted_, problem_); }

    // Hot food that comes out of the heat can be kept hot, in nothing that another dish needs.
    void keep_hot() {
        for (std::size_t j = 0; j < dishes_.size(); ++j) {
            auto const last = phase(j, dishes_[j].job.tasks.size() - 1);
            if (last != FoodPhase::cooking && last != FoodPhase::reheating) continue;
            auto changed = problem_;
            Task hold;
            hold.most = longest_hot_hold;
            changed.jobs[j].tasks.push_back(hold);
            auto const solved = fits(changed);
            if (!solved) continue;
            auto const& times = solved->times[j];
            auto const held = times.back() - times[times.size() - 2];
            found_.push_back({held, "begin " + settings(j).name + " earlier and keep it hot for " +
                                        length(held) + ", at " + hot() + " or above, until it is served"});
        }
    }
    std::string hot() const {
        return show(Temperature{hot_hold_limits()[0].celsius()}, wanted_.settings.units, 0);
    }
    void serve_cold() {
        for (std::size_t j = 0; j < dishes_.size(); ++j) {
            auto const last = phase(j, dishes_[j].job.tasks.size() - 1);
            if (last != FoodPhase::cooking && last != FoodPhase::resting) continue;
            auto const fridge =
                std::ranges::find(wanted_.settings.vessels, VesselKind::fridge, &VesselSettings::kind);
            if (fridge == wanted_.settings.vessels.end()) return;
            auto changed = problem_;
            Task chill;
            chill.vessel = static_cast<int>(fridge - wanted_.settings.vessels.begin());
            chill.least = chilling, chill.most = longest_cold, chill.attended = true;
            changed.jobs[j].tasks.push_back(chill);
            if (fits(changed))
                found_.push_back(
                    {2 * chilling, "cook " + settings(j).name + " the day before, chill it in " +
                                       fridge->name +
                                       " (to 70 degF within 2 h, to 41 degF within 6 h) and serve it cold"});
        }
    }
    void other_vessels() {
        auto const& vessels = wanted_.settings.vessels;
        auto const& full = vessels[static_cast<std::size_t>(conflict_.vessel)];
        for (std::size_t j = 0; j < dishes_.size(); ++j)
            for (std::size_t i = dishes_[j].began ? 1 : 0; i < problem_.jobs[j].tasks.size(); ++i) {
                auto const& task = problem_.jobs[j].tasks[i];
                if (task.vessel != conflict_.vessel) continue;
                for (std::size_t v = 0; v < vessels.size(); ++v) {
                    bool const other =
                        static_cast<int>(v) != conflict_.vessel && vessels[v].kind == full.kind;
                    if (!other || (task.band && mistake_in_band(*task.band, vessels[v], wanted_.settings)))
                        continue;
                    auto changed = problem_;
                    changed.jobs[j].tasks[i].vessel = static_cast<int>(v);
                    if (fits(changed))
                        found_.push_back({a_minute, "put " + settings(j).name + " into " + vessels[v].name +
                                                        " for its stage " + stage_name(j, i)});
                }
            }
    }
    void helper() {
        for (std::size_t j = 0; j < dishes_.size(); ++j)
            for (std::size_t i = 0; i < problem_.jobs[j].tasks.size(); ++i) {
                auto changed = problem_;
                auto& task = changed.jobs[j].tasks[i];
                if (task.hands == 0 && !task.attended) continue;
                auto const hands = task.hands;
                task.hands = 0, task.attended = false;
                auto const solved = fits(changed);
                if (!solved) continue;
                found_.push_back({hands + 30 * a_minute, "have somebody else see to " + settings(j).name +
                                                             at_clock(solved->times[j][i]) + " (" +
                                                             stage_name(j, i) +
                                                             (hands > 0 ? ", " + length(hands) : "") + ")"});
            }
    }
    void longer_day() {
        for (int const end : {0, 1})
            for (auto const minutes : shifts) {
                auto changed = problem_;
                for (auto& night : changed.nights)
                    (end ? night.from : night.to) += (end ? 1 : -1) * minutes * a_minute;
                std::erase_if(changed.nights, [](Interval const& night) { return night.from >= night.to; });
                if (!fits(changed)) continue;
                found_.push_back({minutes * a_minute + 30 * a_minute,
                                  std::string("be there ") + length(minutes * a_minute) +
                                      (end ? " longer in the evening" : " earlier in the morning")});
                break;
            }
    }

    Wanted const& wanted_;
    std::vector<DishJob> const& dishes_;
    Conflict const& conflict_;
    Problem problem_;
    std::vector<Found> found_;
};

}  // namespace

std::vector<std::string> remedies(Wanted const& wanted, std::vector<DishJob> const& dishes,
                                  Conflict const& conflict) {
    return Trial(wanted, dishes, conflict).all();
}

std::vector<std::string> made_possible(Wanted const& wanted, DishJob const& dish) {
    std::vector<std::string> out;
    for (auto& one : hotter_mediums(wanted, dish)) {
        find_impossible(wanted, one.job);
        if (!one.job.impossible.empty()) continue;
        auto const problem = problem_of(wanted, {one.job}, 0);
        auto const late = !on_time(problem, most_steps).best;
        out.push_back(std::move(one.text) + (late ? ": then it can be done, though not in time" : ""));
    }
    return out;
}

std::vector<std::string> surer(Wanted const& wanted, std::vector<DishJob> const& dishes, std::size_t j) {
    auto const& dish = dishes[j];
    auto const& settings = wanted.settings.dishes[static_cast<std::size_t>(dish.dish)];
    if (dish.job.fixed || !std::ranges::all_of(dish.lengths, &StageLength::known)) return {};
    std::vector<std::vector<StageLength>> lengths;
    for (auto const& one : dishes) lengths.push_back(one.lengths);
    lengths[j].push_back({});
    auto problem = problem_of(wanted, dishes, 0);
    problem.jobs[j].tasks.emplace_back().most = longest_hot_hold;
    for (auto const minutes : shifts) {
        auto& hold = problem.jobs[j].tasks.back();
        if (minutes * a_minute > longest_hot_hold) break;
        hold.least = minutes * a_minute;
        auto const solved = on_time(problem, most_steps).best;
        if (!solved) break;
        hold.least = 0;  // it is only as long as nothing took longer
        if (chances(problem, solved->times, lengths)[j].in_time < sure) continue;
        auto const limit = Temperature{hot_hold_limits()[0].celsius()};
        return {"end its plan with a hot-hold stage (" + show(limit, wanted.settings.units, 0) +
                " or above) and begin " + settings.name + " " +
                show(Duration{static_cast<double>(minutes * a_minute)}) +
                " earlier: then it is ready in time in 9 of 10"};
    }
    return {};
}

}  // namespace ingle::schedule
