// Which alarms of one dish, or of a dish and the vessel that it is in, ask for opposite things at one moment.
// For tests.
#pragma once

#include <string>
#include <string_view>
#include <vector>

#include "daemon/model/alarm.hpp"
#include "daemon/model/view.hpp"

namespace ingle::test {

// Somebody is told this now: raised, not silenced, and not suppressed by its cause.
inline bool orders(Alarm const& alarm) {
    return alarm.active && alarm.action != Action::none && alarm.muted_by.empty() &&
           alarm.state != AlarmState::suppressed_by_design && alarm.state != AlarmState::out_of_service;
}

inline bool concern_the_same(Alarm const& a, Alarm const& b, View const& view) {
    if (a.subject == b.subject) return true;
    auto const is_in = [&](Subject dish, Subject vessel) {
        return dish.kind == SubjectKind::dish && vessel.kind == SubjectKind::vessel &&
               view.dishes[static_cast<std::size_t>(dish.number)].vessel == vessel.number;
    };
    return is_in(a.subject, b.subject) || is_in(b.subject, a.subject);
}

// Each pair as "danger-zone (raise-heat) and cooling-late (chill): text / text".
inline std::vector<std::string> opposing(View const& view) {
    std::vector<std::string> found;
    for (std::size_t i = 0; i < view.alarms.size(); ++i)
        for (std::size_t j = 0; j < i; ++j) {
            auto const &a = view.alarms[j], &b = view.alarms[i];
            if (!orders(a) || !orders(b) || !opposed(a.action, b.action)) continue;
            if (!concern_the_same(a, b, view)) continue;
            found.push_back(std::string(a.type->name) + " (" + std::string(to_word(a.action)) + ") and " +
                            std::string(b.type->name) + " (" + std::string(to_word(b.action)) +
                            "): " + a.text + " / " + b.text);
        }
    return found;
}

// What a sentence orders, found by its words: so that no text orders what its alarm does not say. `none` if
// it orders nothing.
inline Action order_in(std::string_view text) {
    struct Phrase {
        std::string_view words;
        Action action;
    };
    // The first that is found counts: what leaves a choice orders neither.
    constexpr Phrase phrases[] = {{"Chill it or heat it", Action::none},
                                  {"heat it through, or chill it", Action::none},
                                  {"Heat it to ", Action::reheat},
                                  {"Heat it faster", Action::reheat},
                                  {"hrow it away", Action::discard},
                                  {"Raise the heat", Action::raise_heat},
                                  {"More heat brings", Action::raise_heat},
                                  {"Get it colder", Action::chill},
                                  {"in an ice bath", Action::chill},
                                  {"Turn the heat down", Action::lower_heat},
                                  {"Turn the heat well down", Action::lower_heat},
                                  {"Turn off the heat", Action::lower_heat},
                                  {"Turn the heat up", Action::raise_heat},
                                  {"turn it up", Action::raise_heat},
                                  {"set it lower", Action::lower_heat},
                                  {"set it higher", Action::raise_heat},
                                  {"Turn the heat well up", Action::raise_heat}};
    for (auto const& phrase : phrases)
        if (text.find(phrase.words) != text.npos) return phrase.action;
    return Action::none;
}

}  // namespace ingle::test
