#include "tests/scenarios/judge.hpp"

#include <algorithm>
#include <cmath>
#include <limits>
#include <set>

#include "daemon/kitchen/kitchen.hpp"
#include "tests/scenarios/honest.hpp"
#include "tests/support/orders.hpp"

namespace ingle::scenarios {
namespace {

bool loud(Told const& told) {
    return told.priority != Priority::low;
}

// One cause, told as it grows: each of these may follow the one before it, because it is worse and asks for
// something else. A pot above its band that goes on to the boil may say so, one below it whose flame turns
// out to be off too; one that is about to boil need not say that it is above its band.
constexpr std::string_view chains[][4] = {{"above-band", "boil-over-risk", "boiling", "boiled-dry"},
                                          {"below-band", "heat-lost"},
                                          {"above-band", "cold-hold"}};
// Events that say what happened: each must have.
constexpr std::string_view asked_for[] = {"food-added", "topped-up", "interference", "periodic-interference",
                                          "probe-moved"};
constexpr int viewed_every_s = 10;

// The band in force at that second, as the cook moved it.
std::optional<Band> band_at(Scenario const& scenario, double at_s) {
    auto band = scenario.settings.vessels[0].band;
    for (auto const& [when, command] : scenario.commands)
        if (auto const* hold = std::get_if<Hold>(&command); hold && when <= at_s) band = hold->band;
    return band;
}

// Said to be outside the band, and truly outside for the two minutes before: no false alarm, whoever says it.
bool truly_outside(Scenario const& scenario, Told const& told) {
    auto const band = band_at(scenario, told.at_s);
    if (!band || (told.alarm != "below-band" && told.alarm != "above-band")) return false;
    auto const last = std::min(static_cast<std::size_t>(told.at_s), scenario.true_c.size() - 1);
    for (std::size_t s = last >= 120 ? last - 120 : 0; s <= last; ++s) {
        double const c = scenario.true_c[s];
        if (told.alarm == "below-band" ? c >= band->low.celsius : c <= band->high.celsius) return false;
    }
    return true;
}

int beyond_one_chain(std::vector<Told> const& told) {
    std::size_t best = 0;
    for (auto const& chain : chains) {
        // In the order of the chain only: what comes back to an earlier link is a second alarm.
        std::size_t link = 0, used = 0;
        for (auto const& one : told) {
            auto const at = static_cast<std::size_t>(std::ranges::find(chain, one.alarm) - std::begin(chain));
            if (at >= std::size(chain) || at < link) continue;
            link = at + 1;
            ++used;
        }
        best = std::max(best, used);
    }
    best = std::max<std::size_t>(best, told.empty() ? 0 : 1);
    return static_cast<int>(told.size() - best);
}

void judge_doors(Scenario const& scenario, Run const& run, Score& score) {
    std::string const seed = "seed " + std::to_string(scenario.seed) + ": ";
    std::set<std::size_t> used;
    for (auto const& door : scenario.truth.doors) {
        score.doors += door.counts;
        for (std::size_t i = 0; i < run.doors.size(); ++i)
            if (!used.contains(i) && run.doors[i].at_s >= door.opened_s &&
                run.doors[i].at_s <= door.closed_s + 180) {
                used.insert(i);
                score.doors_found += door.counts;
                break;
            }
    }
    score.doors_invented = static_cast<int>(run.doors.size() - used.size());
    for (std::size_t i = 0; i < run.doors.size(); ++i)
        if (!used.contains(i))
            score.offences.push_back(seed + "invented a door opening at " +
                                     std::to_string(static_cast<long>(run.doors[i].at_s)) + " s");
    if (score.doors_found < score.doors)
        score.offences.push_back(seed + "found " + std::to_string(score.doors_found) + " of " +
                                 std::to_string(score.doors) + " door openings");
}

void judge_events(Scenario const& scenario, Run const& run, Score& score) {
    std::string const seed = "seed " + std::to_string(scenario.seed) + ": ";
    std::set<std::size_t> used;
    for (auto const& wanted : scenario.truth.happenings) {
        ++score.events;
        auto found = false;
        for (std::size_t i = 0; i < run.events.size() && !found; ++i) {
            auto const& [when, name] = run.events[i];
            found =
                !used.contains(i) && name == wanted.event && when >= wanted.from_s && when <= wanted.until_s;
            if (found) used.insert(i);
        }
        score.events_found += found;
        if (!found) score.offences.push_back(seed + wanted.event + " was not told");
    }
    for (std::size_t i = 0; i < run.events.size(); ++i)
        if (std::ranges::any_of(scenario.truth.may_tell, [&](Happening const& h) {
                auto const& [when, name] = run.events[i];
                return name == h.event && when >= h.from_s && when <= h.until_s;
            }))
            used.insert(i);
    score.events_invented = static_cast<int>(run.events.size() - used.size());
    for (std::size_t i = 0; i < run.events.size(); ++i)
        if (!used.contains(i))
            score.offences.push_back(seed + "invented " + run.events[i].second + " at " +
                                     std::to_string(static_cast<long>(run.events[i].first)) + " s");
}

}  // namespace

Run run_core(Scenario const& scenario) {
    Run run;
    Kitchen kitchen(scenario.settings, second(0));
    Effects effects;
    Honest honest(scenario.settings);
    std::map<std::int64_t, std::size_t> open;
    std::size_t next_command = 0;
    auto take_effects = [&] {
        for (auto const& effect : effects) {
            if (auto const* change = std::get_if<AlarmChanged>(&effect)) {
                auto const& alarm = change->alarm;
                auto const at = seconds(change->at - second(0));
                bool const muted = alarm.state == AlarmState::suppressed_by_design;
                if ((change->transition == Transition::raised ||
                     change->transition == Transition::unsuppressed) &&
                    !muted) {
                    open[alarm.id] = run.alarms.size();
                    auto const& subject = alarm.subject.kind == SubjectKind::probe ? "probe" : "vessel";
                    run.alarms.push_back(
                        {at, std::string(alarm.type->name), subject, alarm.text, alarm.priority});
                } else if (auto const it = open.find(alarm.id); it != open.end()) {
                    auto& told = run.alarms[it->second];
                    told.priority = std::max(told.priority, alarm.priority);
                    if (change->transition == Transition::cleared) told.cleared_s = at;
                }
            } else if (auto const* event = std::get_if<Event>(&effect);
                       event && event->name == "door-opened") {
                run.doors.push_back({seconds(event->at - second(0))});
            } else if (event && std::ranges::find(asked_for, event->name) != std::end(asked_for)) {
                run.events.emplace_back(seconds(event->at - second(0)), event->name);
            }
        }
        effects.clear();
    };
    for (int s = 0; s < scenario.length_s(); ++s) {
        while (next_command < scenario.commands.size() && scenario.commands[next_command].first <= s) {
            kitchen.command(second(s), scenario.commands[next_command].second, effects);
            ++next_command;
        }
        // A second is judged before its readings come; what is shown after them must bear them.
        kitchen.advance(second(s), effects);
        honest.effects(s, effects);
        auto const judged = effects.size();
        for (std::size_t probe = 0; probe < scenario.readings.size(); ++probe)
            if (auto const& reading = scenario.readings[probe][static_cast<std::size_t>(s)]) {
                if (reading->ok()) honest.read(static_cast<int>(probe), s, reading->celsius());
                kitchen.take(static_cast<int>(probe), *reading, effects);
            }
        honest.effects(s, {effects.begin() + static_cast<std::ptrdiff_t>(judged), effects.end()});
        if (s % viewed_every_s == 0) honest.view(s, kitchen.view());
        take_effects();
        if (s % 60 == 0)
            for (auto& pair : test::opposing(kitchen.view())) run.opposed.insert(std::move(pair));
    }
    run.statements = honest.statements();
    run.lies = honest.lies();
    return run;
}

Run run_threshold(Scenario const& scenario, double deadband) {
    Run run;
    auto band = scenario.settings.vessels[0].band;
    bool above = false, below = false, dead = false;
    int silent = 0;
    std::size_t next_command = 0;
    for (int s = 0; s < scenario.length_s(); ++s) {
        while (next_command < scenario.commands.size() && scenario.commands[next_command].first <= s)
            if (auto const* hold = std::get_if<Hold>(&scenario.commands[next_command++].second))
                band = hold->band;
        auto const& reading = scenario.readings[0][static_cast<std::size_t>(s)];
        bool const value = reading && reading->ok();
        silent = value ? 0 : silent + 1;
        if (!value) {
            if (silent == 30 && !dead) {
                dead = true;
                auto const* name = reading && reading->fault().kind == FaultKind::open ? "probe-open"
                                   : reading && reading->fault().kind == FaultKind::short_to_ground
                                       ? "probe-short"
                                       : "probe-silent";
                run.alarms.push_back({s * 1.0, name, "probe", "", Priority::medium});
            }
            continue;
        }
        dead = false;
        if (!band) continue;
        double const c = reading->celsius();
        if (c > band->high.celsius && !above)
            run.alarms.push_back({s * 1.0, "above-band", "vessel", "", Priority::medium});
        if (c < band->low.celsius && !below)
            run.alarms.push_back({s * 1.0, "below-band", "vessel", "", Priority::medium});
        above = above ? c > band->high.celsius - deadband : c > band->high.celsius;
        below = below ? c < band->low.celsius + deadband : c < band->low.celsius;
    }
    return run;
}

void Score::add(Score const& o) {
    runs += o.runs, hazards += o.hazards, told += o.told, late += o.late, missed += o.missed,
        causes += o.causes;
    extra += o.extra, quiet_h += o.quiet_h, quiet_alarms += o.quiet_alarms, doors += o.doors,
        after += o.after;
    doors_found += o.doors_found, doors_invented += o.doors_invented;
    truly_outside += o.truly_outside, quiet_words += o.quiet_words, events += o.events,
        events_found += o.events_found;
    opposed += o.opposed;
    warnings += o.warnings, unwarned += o.unwarned;
    statements += o.statements, lies += o.lies;
    events_invented += o.events_invented, corrections += o.corrections, nagged += o.nagged;
    leads_s.insert(leads_s.end(), o.leads_s.begin(), o.leads_s.end());
    boil_leads_s.insert(boil_leads_s.end(), o.boil_leads_s.begin(), o.boil_leads_s.end());
    offences.insert(offences.end(), o.offences.begin(), o.offences.end());
}

Score judge(Scenario const& scenario, Run const& run) {
    Score score;
    score.runs = 1;
    auto const& truth = scenario.truth;
    auto const offence = [&](std::string text) {
        score.offences.push_back("seed " + std::to_string(scenario.seed) + ": " + std::move(text));
    };
    auto const at = [](double s) { return std::to_string(static_cast<long>(s)) + " s"; };

    for (auto const& pair : run.opposed) {
        ++score.opposed;
        offence("opposite orders at once: " + pair);
    }
    for (auto const& hazard : truth.hazards) {
        ++score.hazards;
        auto const tells = [&](Told const& told) {
            return std::ranges::find(hazard.told_by, told.alarm) != hazard.told_by.end() &&
                   told.cleared_s > hazard.onset_s;
        };
        auto const first = std::ranges::find_if(run.alarms, tells);
        if (first == run.alarms.end()) {
            ++score.missed;
            offence(hazard.what + " was never told");
        } else if (first->at_s > hazard.limit_s) {
            ++score.late;
            offence(hazard.what + " told at " + at(first->at_s) + ", limit " + at(hazard.limit_s));
        } else {
            ++score.told;
        }
        if (hazard.exit_s && *hazard.exit_s - hazard.onset_s > 300) {
            auto const warned = std::ranges::find_if(run.alarms, [&](Told const& told) {
                return (told.alarm == "leaving-band" || told.alarm == "heat-lost" ||
                        told.alarm == "boil-over-risk") &&
                       told.at_s >= hazard.onset_s;
            });
            score.leads_s.push_back(warned == run.alarms.end() ? -1 : *hazard.exit_s - warned->at_s);
        }
        if (hazard.exit_s && !hazard.warned_by.empty()) {
            ++score.warnings;
            bool const warned = std::ranges::any_of(run.alarms, [&](Told const& told) {
                return std::ranges::find(hazard.warned_by, told.alarm) != hazard.warned_by.end() &&
                       told.at_s >= hazard.onset_s && told.at_s < *hazard.exit_s;
            });
            score.unwarned += !warned;
            if (!warned) offence(hazard.what + " at " + at(*hazard.exit_s) + " without a warning");
        }
        if (hazard.boil_s && *hazard.boil_s - hazard.onset_s > 120 && first != run.alarms.end())
            score.boil_leads_s.push_back(*hazard.boil_s - first->at_s);
    }

    score.quiet_h = truth.quiet_until_s / 3600;
    std::vector<Told> after;
    for (auto const& told : run.alarms) {
        if (!loud(told)) {
            score.quiet_words += told.at_s < truth.quiet_until_s;
            continue;
        }
        if (told.at_s < truth.quiet_until_s) {
            bool const allowed = std::ranges::any_of(truth.allowed, [&](Allowed const& a) {
                return a.alarm == told.alarm && told.at_s >= a.from_s && told.at_s <= a.until_s;
            });
            if (allowed || truly_outside(scenario, told)) {
                ++score.truly_outside;
                continue;
            }
            ++score.quiet_alarms;
            offence("quiet, but " + told.alarm + " at " + at(told.at_s) + ": " + told.text);
        } else {
            auto const explained = [&](std::string const& name) { return name == told.alarm; };
            bool known = std::ranges::any_of(truth.expected, explained);
            for (auto const& hazard : truth.hazards)
                known = known || std::ranges::any_of(hazard.told_by, explained);
            if (!known) {
                ++score.after;
                offence("nothing explains " + told.alarm + " at " + at(told.at_s) + ": " + told.text);
            }
            after.push_back(told);
        }
    }
    if (!truth.hazards.empty()) {
        ++score.causes;
        auto const extra = beyond_one_chain(after);
        score.extra = std::max(0, extra);
        if (extra > 0) {
            std::string list;
            for (auto const& told : after) list += ' ' + told.alarm + '@' + at(told.at_s);
            offence("one cause, several alarms:" + list);
        }
    }

    if (truth.corrected_s) {
        ++score.corrections;
        for (auto const& told : run.alarms) {
            if (told.alarm != "leaving-band" || told.at_s < *truth.corrected_s + 60 ||
                told.at_s > *truth.corrected_s + 1200)
                continue;
            ++score.nagged;
            offence("leaving-band at " + at(told.at_s) + " though the heat was turned at " +
                    at(*truth.corrected_s));
        }
    }
    judge_doors(scenario, run, score);
    judge_events(scenario, run, score);
    score.statements = run.statements;
    score.lies = static_cast<int>(run.lies.size());
    if (!run.lies.empty()) offence("not read: " + run.lies.front());
    return score;
}

double median(std::vector<double> values) {
    if (values.empty()) return std::numeric_limits<double>::quiet_NaN();
    std::ranges::sort(values);
    auto const n = values.size();
    return n % 2 ? values[n / 2] : (values[n / 2 - 1] + values[n / 2]) / 2;
}

}  // namespace ingle::scenarios
