// Each minute, for each dish that is not begun and has its time: until when it can be begun. One dish in a
// second, so that no second has much of it, and anew where another stage begins or ends; by what cooks, the
// plan and the clock alone, so that the same readings give the same alarms.
#include <algorithm>
#include <utility>

#include "daemon/kitchen/impl.hpp"
#include "daemon/schedule/cooking.hpp"
#include "daemon/schedule/latest_begin.hpp"
#include "daemon/watches/words.hpp"

namespace ingle {
namespace {

constexpr std::int64_t each_s = 60;
constexpr schedule::Seconds ahead_s = 600;  // told so long before the begin that is sure
constexpr char late[] = "late-for-serving";

class Telling {
public:
    Telling(Settings const& settings, int dish, schedule::LatestBegin const& begin, schedule::Seconds at)
        : settings_(settings),
          dish_(settings.dishes[static_cast<std::size_t>(dish)]),
          begin_(begin),
          at_(at) {}

    void tell(Finding& finding) const {
        if (begin_.likely && at_ + ahead_s < begin_.sure) {
            // Beside the others it may be late all the same: nobody has worked that out.
            if (!begin_.in_full) finding.truth = Truth::unknown;
            return;
        }
        finding.truth = Truth::present;
        finding.grade = begin_.likely ? 0 : 1;
        finding.text = begin_.likely ? to_begin() : too_late();
        finding.value = static_cast<double>(at_ - begin_.likely.value_or(at_));
        finding.on_delay = Span(0);
    }

private:
    std::string length(schedule::Seconds s) const {
        return Words::in(std::chrono::seconds(std::max<schedule::Seconds>(0, s)));
    }
    std::string first_stage() const {
        auto text = "stage " + begin_.stage;
        if (begin_.vessel >= 0)
            text += " in " + settings_.vessels[static_cast<std::size_t>(begin_.vessel)].name;
        return text;
    }
    std::string unknown_length() const {
        std::string const others =
            begin_.in_full ? "" : " What else wants its vessel or the hands may ask for a sooner begin.";
        return others + (begin_.unknown.empty() ? ""
                                                : " How long " + begin_.unknown +
                                                      " takes is not known, so the sooner the surer.");
    }
    std::string to_begin() const {
        auto const serve = *dish_.serve_at / 1000;
        auto const sure = begin_.sure - at_;
        auto text = dish_.name + " is not begun (" + first_stage() + ") and is to be served in " +
                    length(serve - at_) + ". ";
        if (!begin_.nine_of_ten)
            text += "No begin makes it ready in time in 9 of 10, so the sooner the surer";
        else
            text += sure > 0 ? "Begun within " + length(sure) + " it is ready in time in 9 of 10"
                             : std::string("To be ready in time in 9 of 10 it is late already");
        auto const left = *begin_.likely - at_;
        return text + "; the last moment by its plan is " + (left > 0 ? "in " + length(left) : "now") + "." +
               unknown_length();
    }
    std::string too_late() const {
        auto const serve = *dish_.serve_at / 1000;
        auto text = dish_.name + " is not begun (" + first_stage() + ") and will be late: begun now" +
                    (begin_.taken ? ", after what is in the way," : "") + " it is ready in about " +
                    length(begin_.ready - at_) + ", " + length(begin_.ready - serve) + " after its time.";
        if (!begin_.remedies.empty()) text += " What helps: " + begin_.remedies.front() + ".";
        return text + unknown_length();
    }

    Settings const& settings_;
    DishSettings const& dish_;
    schedule::LatestBegin const& begin_;
    schedule::Seconds at_;
};

std::int64_t second_of(Instant now) {
    return std::chrono::duration_cast<std::chrono::seconds>(now.time_since_epoch()).count();
}

}  // namespace

void Kitchen::Impl::step_plans() {
    auto const second = second_of(now);
    std::vector<std::int64_t> stages;
    for (auto const& dish : dishes)
        stages.push_back(dish.cook.begun() ? static_cast<std::int64_t>(dish.cook.place()) : -1);
    if (stages != under_way) under_way = std::move(stages), under_way_since_s = second;
    bool began_one = false;  // of those that are judged for the first time, one a second
    for (int d = 0; d < static_cast<int>(dishes.size()); ++d) {
        auto const number = static_cast<std::size_t>(d);
        auto const& dish = settings.dishes[number];
        bool const wanted = dish.serve_at && !dish.plan.empty() && ended_for[number] != dish.serve_at;
        if (dishes[number].cook.begun() || !wanted) continue;
        auto& finding = begins[number];
        if (!finding.type && std::exchange(began_one, true)) continue;
        bool const due = !finding.type || (second - d) % each_s == 0 || second - d == under_way_since_s;
        if (due) {
            finding = {};
            finding.type = find_type(cook_alarms(), late);
            if (!clock_certain || !wall_offset_ms) {
                finding.truth = Truth::unknown;
            } else {
                auto const at = (now.time_since_epoch().count() + *wall_offset_ms) / 1000;
                judge_begin(d, at, finding);
            }
        }
        judge({SubjectKind::dish, d}, Finding(finding), {});
    }
}

// Each minute, of a dish that cooks and will be late.
void Kitchen::Impl::find_helps(int number) {
    auto& dish = dishes[static_cast<std::size_t>(number)];
    if (!dish.cook.is_late() || !clock_certain || !wall_offset_ms) return dish.helps.reset();
    if (dish.helps && (second_of(now) - number) % each_s != 0) return;
    auto const at = (now.time_since_epoch().count() + *wall_offset_ms) / 1000;
    dish.helps = schedule::what_helps(wanted_at(at), number);
}

// By what cooks now.
schedule::Wanted Kitchen::Impl::wanted_at(std::int64_t at) const {
    auto running = schedule::running_dishes(schedule::cooking_in(dish_views(), now), settings, at);
    schedule::Wanted wanted{settings, zone.value_or(TimeZone()), at, std::move(running)};
    wanted.zone_known = zone.has_value();
    wanted.times = planned_times.get();
    return wanted;
}

// What nobody has begun by its time is not cooked today.
void Kitchen::Impl::judge_begin(int number, std::int64_t at, Finding& finding) const {
    if (at * 1000 >= *settings.dishes[static_cast<std::size_t>(number)].serve_at) {
        finding.off_delay = Span(0);
        return;
    }
    if (auto const begin = schedule::latest_begin(wanted_at(at), number))
        Telling(settings, number, *begin, at).tell(finding);
}

}  // namespace ingle
