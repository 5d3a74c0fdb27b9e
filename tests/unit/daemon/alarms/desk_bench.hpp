// A desk with a small kitchen around it, stepped once a second, and what came of it.
#pragma once

#include <string>
#include <variant>
#include <vector>

#include "daemon/alarms/alarm_desk.hpp"

namespace ingle::test {

inline constexpr std::string_view probe_faults[] = {"probe-open", "probe-silent"};
inline constexpr std::string_view just_above[] = {"above-band", "probe-open", "probe-silent"};

inline constexpr AlarmType above{.name = "above-band",
                                 .priority = Priority::medium,
                                 .suppressed_by = probe_faults,
                                 .value_is_celsius = true,
                                 .over = "is no longer above its band"};
inline constexpr AlarmType leaving{
    .name = "leaving-band", .priority = Priority::low, .suppressed_by = just_above};
inline constexpr AlarmType below{
    .name = "below-band", .priority = Priority::medium, .suppressed_by = probe_faults};
inline constexpr AlarmType boil_over{.name = "boil-over-risk", .priority = Priority::high};
inline constexpr AlarmType open_probe{
    .name = "probe-open", .priority = Priority::medium, .on_delay = std::chrono::seconds(20)};
inline constexpr AlarmType silent{.name = "probe-silent", .priority = Priority::medium};
inline constexpr AlarmType done{.name = "core-target", .priority = Priority::medium, .good_news = true};

inline constexpr AlarmType undelivered{.name = "not-delivered",
                                       .priority = Priority::high,
                                       .off_delay = std::chrono::seconds(30),
                                       .over = "has no channel any more that fails"};

inline constexpr AlarmType rang{.name = "timer-over", .priority = Priority::medium, .prompt = true};

inline Settings village_hall() {
    Settings s;
    s.name = "village hall";
    for (int i = 1; i <= 8; ++i) s.probes.push_back({.name = "p" + std::to_string(i), .driver = "recorded"});
    for (char const* name : {"stockpot", "smoker", "fridge"}) s.vessels.push_back({.name = name});
    for (char const* name : {"goose-roll", "boar-shoulder"}) s.dishes.push_back({.name = name});
    s.channels.push_back({.name = "phone", .kind = "webhook"});
    return s;
}

inline Subject probe(int n) {
    return {SubjectKind::probe, n};
}
inline Subject vessel(int n) {
    return {SubjectKind::vessel, n};
}
inline Subject dish(int n) {
    return {SubjectKind::dish, n};
}

inline Subject const pot = vessel(0), smoker = vessel(1), fridge = vessel(2);

inline Instant at(double s) {
    return Instant(from_seconds(s));
}

inline Finding finding(AlarmType const& type, Truth truth, double value = 0, std::string text = "") {
    Finding f;
    f.type = &type;
    f.truth = truth;
    f.value = value;
    f.text = text.empty() ? std::string(type.name) + " text" : text;
    return f;
}
inline Judged judged(AlarmType const& type, Subject subject, bool present, double value = 0) {
    return {subject, finding(type, present ? Truth::present : Truth::absent, value)};
}
inline std::vector<Judged> one(AlarmType const& type, Subject subject, bool present, double value = 0) {
    return {judged(type, subject, present, value)};
}
inline Judged unknown(AlarmType const& type, Subject subject) {
    return {subject, finding(type, Truth::unknown)};
}

struct Bench {
    explicit Bench(Settings s = village_hall()) : settings(std::move(s)), desk(settings, types()) {}
    static std::vector<AlarmType const*> types() {
        return {&above, &leaving, &below, &boil_over, &open_probe, &silent, &done, &rang, &undelivered};
    }

    // Steps with the same findings once a second until `until` seconds.
    void run(double until, std::vector<Judged> const& findings) {
        for (; now < until; now += 1) desk.step(at(now), findings, effects);
    }
    template <class C>
    void command(C const& c) {
        desk.command(at(now), c, effects);
    }
    std::vector<Tell> tells(std::string const& kind = "") const {
        std::vector<Tell> found;
        for (Effect const& e : effects)
            if (auto const* t = std::get_if<Tell>(&e); t && (kind.empty() || t->kind == kind))
                found.push_back(*t);
        return found;
    }
    std::vector<AlarmChanged> changes(Transition transition) const {
        std::vector<AlarmChanged> found;
        for (Effect const& e : effects)
            if (auto const* c = std::get_if<AlarmChanged>(&e); c && c->transition == transition)
                found.push_back(*c);
        return found;
    }
    // Power off and on: a new desk that knows only the memory.
    Bench restarted(Span shift = Span(0)) const {
        Bench next(settings);
        Memory memory;
        desk.remember(memory);
        memory.shift_instants(shift);
        next.now = now + seconds(shift);
        next.desk.recall(at(next.now), memory, next.effects);
        return next;
    }

    Settings settings;
    AlarmDesk desk;
    Effects effects;
    double now = 0;
};

}  // namespace ingle::test
