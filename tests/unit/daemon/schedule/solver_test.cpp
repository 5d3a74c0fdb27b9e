// The solver against a search through every schedule there is, on small random kitchens.
#include "daemon/schedule/solver.hpp"

#include "tests/support/catch.hpp"
#include "tests/unit/daemon/schedule/random_kitchens.hpp"

using namespace ingle::schedule;
using namespace ingle::schedule::testing;

namespace {

constexpr Seconds horizon = 2000;

Task task(int vessel, Seconds least, Seconds most = 0) {
    Task made;
    made.vessel = vessel, made.least = least, made.most = std::max(least, most);
    return made;
}

Job job(std::vector<Task> tasks, Seconds serve_at) {
    Job made;
    made.tasks = std::move(tasks), made.serve_at = serve_at;
    return made;
}

}  // namespace

TEST_CASE("on 500 small random kitchens the solver finds what a search through all schedules finds") {
    int feasible = 0, waited = 0;
    for (std::uint32_t seed = 1; seed <= 500; ++seed) {
        auto const problem = random_kitchen(seed, seed % 5 ? Size{3, 3, 3, 60, 12, 2, true, true, 3, 6}
                                                           : Size{5, 2, 3, 60, 8, 1, true, true, 3, 10});
        auto const truth = AllWays(problem).least_waiting();
        auto const answer = on_time(problem, usual_steps(problem));
        INFO("seed " << seed);
        REQUIRE(answer.proven);
        REQUIRE(answer.best.has_value() == truth.has_value());
        if (!truth) continue;
        ++feasible;
        CHECK(broken(problem, answer.best->times) == "");
        CHECK(answer.best->waiting == *truth);
        if (*truth > 0) ++waited;
    }
    CAPTURE(feasible, waited);
    // The kitchens are neither all easy nor all impossible.
    CHECK(feasible > 150);
    CHECK(feasible < 450);
    CHECK(waited > 40);
}

TEST_CASE("what cannot be on time is late by as little as a search through all serving times finds") {
    int late = 0;
    for (std::uint32_t seed = 1; seed <= 600; ++seed) {
        auto problem = random_kitchen(seed, Size{2, 3, 2, 40, 3, 1, true, false});
        auto const answer = solve(problem, horizon);
        INFO("seed " << seed);
        bool const fits = on_time(problem, usual_steps(problem)).best.has_value();
        if (!answer.best) {  // a dish that waits in the night can be impossible at any time
            CHECK_FALSE(fits);
            continue;
        }
        CHECK(broken(problem, answer.best->times, true) == "");
        CHECK((answer.best->late == 0) == fits);
        if (fits || answer.best->late > 14 || problem.jobs.size() != 2) continue;
        ++late;
        std::optional<Seconds> least;
        for (Seconds a = 0; a <= answer.best->late; ++a)
            for (Seconds b = 0; a + b <= answer.best->late; ++b) {
                auto later = problem;
                later.jobs[0].serve_at += a, later.jobs[1].serve_at += b;
                if ((!least || a + b < *least) && AllWays(later).least_waiting()) least = a + b;
            }
        REQUIRE(least);
        CHECK(*least == answer.best->late);
    }
    CHECK(late > 40);
}

TEST_CASE("two dishes share a vessel only where their bands overlap and there is room") {
    Problem problem;
    problem.rooms = {2};
    auto hot = task(0, 10), warm = task(0, 10, 30);
    hot.band = ingle::Band{{90}, {95}}, warm.band = ingle::Band{{60}, {70}};
    problem.jobs = {job({hot}, 100), job({warm}, 100)};
    CHECK_FALSE(on_time(problem, 100).best);  // both end at 100 there
    problem.jobs[1].serve_at = 90;
    REQUIRE(on_time(problem, 100).best);
    CHECK(on_time(problem, 100).best->waiting == 0);
    problem.jobs[1].serve_at = 100;
    problem.jobs[1].tasks[0].band = ingle::Band{{80}, {90}};  // they meet at 90
    CHECK(on_time(problem, 100).best);
    problem.rooms = {1};
    CHECK_FALSE(on_time(problem, 100).best);
}

TEST_CASE("a large kitchen is scheduled without a broken constraint, and the same each time") {
    for (std::uint32_t seed = 1; seed <= 6; ++seed) {
        auto const problem = random_kitchen(seed, Size{12, 8, 8, 400, 60, 4, true, false, 8, 100});
        auto const first = solve(problem, 4000), again = solve(problem, 4000);
        INFO("seed " << seed);
        REQUIRE(first.best);
        CHECK(broken(problem, first.best->times, first.best->late > 0) == "");
        CHECK(first.best->times == again.best->times);
    }
}
