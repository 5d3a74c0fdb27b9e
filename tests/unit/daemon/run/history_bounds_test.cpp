// What the API asks of the logbook: bounded before anything is read, and no exception ends the daemon.
#include "daemon/run/past.hpp"

#include <new>

#include "daemon/logbook/logbook.hpp"
#include "daemon/run/archive.hpp"
#include "tests/support/catch.hpp"
#include "tests/unit/daemon/logbook/support.hpp"

using namespace ingle;
using namespace ingle::logbook::testing;

namespace {

constexpr std::int64_t hours = 6;

void record_a_reading_a_second(std::string const& path) {
    logbook::Writer writer(options_for(path), {});
    writer.resume();
    for (std::int64_t s = 2; s < hours * 3600; ++s) {
        writer.record(good(0, s * 1000, 85 + 0.1 * static_cast<double>(s % 7)));
        if (s % 500 == 0) REQUIRE(writer.flush(std::chrono::seconds(20)));
    }
    writer.stop(std::chrono::seconds(20));
}

HistoryQuery of(std::int64_t from_s, std::int64_t to_s, Span grain = Span(0)) {
    HistoryQuery query;
    query.span = {midnight + from_s * 1000, midnight + to_s * 1000};
    query.probes = {"stock"};
    query.grain = grain;
    return query;
}

}  // namespace

TEST_CASE("more readings than the limit are refused by their count, before they are read") {
    Scratch const folder;
    auto const path = folder / "logbook.db";
    record_a_reading_a_second(path);
    logbook::Reader reader(path);
    auto const everything_raw = of(0, hours * 3600);
    auto const least =
        reader.count_at_least({{"stock",
                                {WallTime(std::chrono::milliseconds(midnight)),
                                 WallTime(std::chrono::milliseconds(midnight + hours * 3'600'000))}}});
    CHECK(least > 20'000 * 3 / 4);  // what is not packed yet is not counted
    CHECK(least <= hours * 3600);
    auto narrow = everything_raw;
    narrow.most = 10'000;
    auto const refused = past_history(reader, narrow);
    CHECK_THAT(refused.error, INGLE_CONTAINS("at most 10000 are given at once; ask for a coarser grain"));
    CHECK(refused.value.series.empty());

    auto const few = past_history(reader, of(3600, 3700));
    CHECK(few.error.empty());
    REQUIRE(few.value.series.size() == 1);
    CHECK(few.value.series[0].points.size() == 100);
    CHECK(past_history(reader, of(0, hours * 3600, std::chrono::minutes(1))).error.empty());
}

TEST_CASE("a question that throws is answered with the reason, and the next one is answered") {
    Scratch const folder;
    boost::asio::io_context io;
    Archive archive(io, folder / "logbook.db");
    std::string error, next = "unanswered";
    archive.ask<Answer<int>>([](auto&) -> Answer<int> { throw std::bad_alloc(); },
                             [&](Answer<int> answer) { error = answer.error; });
    archive.ask<Answer<int>>(
        [](auto&) {
            return Answer<int>{7, ""};
        },
        [&](Answer<int> answer) { next = answer.error; });
    auto const work = boost::asio::make_work_guard(io);
    while (next == "unanswered") io.run_one_for(std::chrono::seconds(10));
    CHECK_THAT(error, INGLE_CONTAINS("cannot be answered: "));
    CHECK(next.empty());
}
