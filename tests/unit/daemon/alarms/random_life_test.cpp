// The life of an alarm under random findings and commands: what always holds, whatever happened before.
#include <map>
#include <set>

#include "tests/support/catch.hpp"
#include "tests/support/kitchen_run.hpp"
#include "tests/unit/daemon/alarms/desk_bench.hpp"

using namespace ingle;
using namespace ingle::test;

namespace {

constexpr int longest_wait_s = 62;  // for a cause that is present and not raised yet

// One alarm that wanders between absent, unknown and present, low to high, and by two sides.
struct Wanderer {
    AlarmType const* type;
    Dice dice;
    Truth truth = Truth::absent;
    Priority priority = Priority::medium;
    int variant = 1;

    Judged next() {
        if (dice.uniform() < 0.01) {
            double const choice = dice.uniform();
            truth = choice < 0.45 ? Truth::present : choice < 0.9 ? Truth::absent : Truth::unknown;
            priority = static_cast<Priority>(static_cast<int>(dice.uniform() * 3));
            if (dice.uniform() < 0.3) variant = -variant;
        }
        Judged one{pot, finding(*type, truth, 80)};
        one.finding.priority = priority;
        one.finding.variant = variant;
        return one;
    }
};

}  // namespace

TEST_CASE("whatever happens to it, a shelving has an end, a number is used once, and what is high is heard") {
    auto const seed = GENERATE(range(1, 13));
    Dice dice(static_cast<std::uint64_t>(seed) + 500);
    Bench b;
    Wanderer mine{&above, Dice(static_cast<std::uint64_t>(seed))};
    Wanderer cause{&open_probe, Dice(static_cast<std::uint64_t>(seed) + 100)};
    int unheard_s = 0;
    std::map<std::int64_t, Instant> begun;
    for (int second = 0; second < 4000; ++second) {
        auto judged = mine.next(), covering = cause.next();
        b.run(b.now + 1, {judged, covering});
        double const choice = dice.uniform();
        for (auto const& alarm : b.desk.open()) {
            if (choice < 0.004) b.command(Acknowledge{alarm.id, "maria"});
            if (choice > 0.996) b.command(Shelve{alarm.id, std::chrono::minutes(5), "jonas"});
        }
        for (auto const& alarm : b.desk.open()) {
            CAPTURE(seed, second, alarm.type->name, to_word(alarm.state));
            CHECK((alarm.state == AlarmState::shelved) == alarm.shelved_until.has_value());
            CHECK((alarm.state == AlarmState::acknowledged) <= alarm.acknowledged.has_value());
            CHECK((alarm.state == AlarmState::suppressed_by_design) <= !alarm.muted_by.empty());
            auto const [first, fresh] = begun.try_emplace(alarm.id, alarm.since);
            CHECK(first->second == alarm.since);
            if (alarm.type != &above) continue;
            bool const high = judged.finding.truth == Truth::present && mine.priority == Priority::high;
            // Seen by somebody, or silenced by somebody who knew how bad it is, or told by its cause.
            bool const known =
                alarm.priority == Priority::high && alarm.state != AlarmState::returned_unacknowledged;
            auto const all = b.desk.open();
            bool const told =
                alarm.muted_by.empty() || std::ranges::any_of(all, [&](Alarm const& other) {
                    return other.type->name == alarm.muted_by && other.priority == Priority::high;
                });
            unheard_s = high && !(known && told) ? unheard_s + 1 : 0;
            CHECK(unheard_s <= longest_wait_s);
        }
    }
}
