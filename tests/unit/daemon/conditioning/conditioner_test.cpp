#include "daemon/conditioning/conditioner.hpp"

#include <chrono>
#include <cmath>
#include <numbers>
#include <random>

#include "tests/support/catch.hpp"

using namespace ingle;

namespace {

struct Probe {
    explicit Probe(ProbeJob job = ProbeJob::liquid, double every = 1,
                   std::vector<CalibrationPoint> points = {})
        : step(every) {
        ProbeSettings s;
        s.name = "stock";
        s.every = Duration{every};
        s.calibration = std::move(points);
        conditioner.emplace(0, s, job);
    }
    void take(double celsius) {
        conditioner->take(Reading::good(now(), celsius), out);
        t += step;
    }
    void fault(FaultKind kind) {
        conditioner->take(Reading::faulty(now(), kind, "open: broken"), out);
        t += step;
    }
    Instant now() const { return Instant(from_seconds(t)); }
    Signal const& signal() const { return conditioner->signal(); }
    std::vector<Recorded> rows() const {
        std::vector<Recorded> rows;
        for (Effect const& e : out) rows.push_back(std::get<Recorded>(e));
        return rows;
    }
    int count(Quality q) const {
        int n = 0;
        for (Recorded const& r : rows()) n += r.quality == q;
        return n;
    }
    std::optional<Conditioner> conditioner;
    Effects out;
    double t = 0, step;
};

}  // namespace

TEST_CASE("Hampel: the worked example") {
    double const x[] = {70.0, 70.1, 69.9, 70.0, 95.0, 70.1, 70.0};
    auto const [median, limit] = hampel(x, 3, 0.05);
    CHECK_THAT(median, WithinAbs(70.0, 1e-12));
    CHECK_THAT(limit, WithinAbs(0.4448, 5e-5));
    SECTION("equal, quantised samples: the floor stands in") {
        double const same[] = {70, 70, 70, 70, 70};
        CHECK_THAT(hampel(same, 3, 0.125).limit, WithinAbs(0.375, 1e-12));
    }
}

// field case A11
TEST_CASE("A11: single spikes are kept as rejected, never believed; a step that stays is, after 3 samples") {
    Probe p(ProbeJob::fridge, 10);
    for (int i = 0; i < 6 * 360; ++i) {  // 6 h
        p.take(i % 108 == 50 ? 31.5 : 4.1);
        CHECK(p.signal().celsius == 4.1);
    }
    CHECK(p.count(Quality::rejected) == 20);
    for (Recorded const& r : p.rows())
        if (r.quality == Quality::rejected) {
            CHECK(*r.raw == 31.5);
            CHECK(*r.celsius == 31.5);
            CHECK(r.fault.has_value());
        }
    p.out.clear();
    p.take(12.0);
    p.take(12.2);
    CHECK(p.out.empty());
    CHECK(p.signal().celsius == 4.1);
    p.take(12.1);
    REQUIRE(p.rows().size() == 3);
    CHECK(p.count(Quality::good) == 3);
    CHECK(p.signal().celsius == 12.1);
    CHECK_THAT(p.signal().level, WithinAbs(12.1, 0.2));
    CHECK(p.signal().jumps == 1);
    CHECK(p.signal().fresh);
}

// 3.5 kg of water, 2.7 kW and a lid: 0.17 K/s (2700 W / (3.5 kg * 4186 J/kgK + 900 J/K)), noise and rounding
// on it. A step would start the trend anew, and it boils before that has settled.
TEST_CASE("a small pot that rises at full flame makes no step: its trend is told all the way") {
    for (unsigned const seed : {1U, 2U, 3U, 4U, 5U}) {
        std::mt19937 bits(seed);
        std::normal_distribution<double> noise(0, 0.12);
        Probe probe;
        double c = 85;
        int before = 0;
        for (int s = 0; s < 665; ++s) {
            c += s < 600 ? 0 : 0.17;
            probe.take(std::round((c + noise(bits)) / 0.25) * 0.25);
            if (s == 300) before = probe.signal().jumps;
            INFO("seed " << seed << ", second " << s);
            if (s >= 300) CHECK(probe.signal().settled);
        }
        CHECK(probe.signal().jumps == before);
        CHECK_THAT(probe.signal().slope, WithinAbs(0.17, 0.02));
    }
}

// field case A16
TEST_CASE("A16: believable nonsense outside the probe's job is a fault, the minimum stays") {
    Probe p(ProbeJob::fridge);
    p.take(3.9);
    p.take(3.9);
    for (int i = 0; i < 10; ++i) p.take(i % 2 ? -110.2 : -109.9);
    p.fault(FaultKind::no_reply);
    CHECK(p.count(Quality::good) == 2);
    CHECK(p.count(Quality::rejected) == 10);
    CHECK(p.rows()[5].fault->kind == FaultKind::out_of_range);
    CHECK_FALSE(p.rows()[5].celsius);
    CHECK(*p.rows()[5].raw == -110.2);
    CHECK(p.signal().celsius == 3.9);
    CHECK_FALSE(p.signal().fresh);
    CHECK(*p.signal().silent_since == Instant(from_seconds(1)));
    CHECK(p.signal().fault->kind == FaultKind::no_reply);
}

// field case A12
TEST_CASE("A12: not a number is garbled, never a value") {
    Probe p;
    p.take(88.1);
    p.take(std::nan(""));
    p.take(HUGE_VAL);
    p.take(59000);
    p.take(-1e9);
    p.take(88.2);
    CHECK(p.count(Quality::good) == 2);
    CHECK(p.rows()[1].fault->kind == FaultKind::garbled);
    CHECK_FALSE(p.rows()[1].raw);
    CHECK_THAT(p.rows()[3].fault->reason, INGLE_CONTAINS("not plausible"));
}

// field case A24
TEST_CASE("A24: a kinked cable is not a temperature") {
    Probe p(ProbeJob::core, 5);
    for (int i = 0; i < 20; ++i) p.take(58.0);
    p.out.clear();
    for (double const x : {58.0, 58.1, 71.0, 58.2, 66.5, 58.2}) p.take(x);
    p.fault(FaultKind::open);
    p.take(58.3);
    CHECK(p.count(Quality::rejected) == 2);
    CHECK(p.count(Quality::good) == 5);
    double last = -1;
    for (Recorded const& r : p.rows()) {
        CHECK(seconds(r.at.time_since_epoch()) > last);
        last = seconds(r.at.time_since_epoch());
    }
}

// field case A10
TEST_CASE("A10: scattered samples are let through in the end, but doubtful") {
    Probe p;
    for (int i = 0; i < 20; ++i) p.take(88.0);
    p.out.clear();
    for (double const x : {95.5, 81.0, 96.25, 80.5, 95.0, 82.0}) p.take(x);
    CHECK(p.count(Quality::doubtful) == 6);
    CHECK(p.signal().doubtful);
}

// field case A2
TEST_CASE("A2: single faults leave a gap of one sample, the rate is known") {
    Probe p(ProbeJob::liquid, 5);
    for (int i = 0; i < 120; ++i) i % 12 == 0 ? p.fault(FaultKind::short_to_ground) : p.take(95);
    CHECK_THAT(p.signal().fault_rate, WithinAbs(1.0 / 12, 0.01));
    CHECK(p.signal().fresh);
    CHECK_FALSE(p.signal().doubtful);
    for (int i = 0; i < 60; ++i) i % 3 == 0 ? p.fault(FaultKind::short_to_ground) : p.take(125);
    CHECK_THAT(p.signal().fault_rate, WithinAbs(1.0 / 3, 0.05));
    CHECK(p.signal().celsius == 125);  // the step of 30 K was seen in spite of the faults
    CHECK(p.signal().fault_rate > too_many_lost);
    CHECK_FALSE(p.signal().doubtful);  // what comes through is watched
}

TEST_CASE("a spike that nothing follows is given up") {
    Probe p;
    for (int i = 0; i < 20; ++i) p.take(88.0);
    p.take(60);
    p.out.clear();
    p.conditioner->advance(p.now() + std::chrono::seconds(4), p.out);
    CHECK(p.out.empty());
    p.conditioner->advance(p.now() + std::chrono::seconds(6), p.out);
    CHECK(p.count(Quality::rejected) == 1);
    CHECK_FALSE(p.signal().fresh);
}

TEST_CASE("age and freshness: three readings missed, and never less than 5 s") {
    CHECK(stale_after(std::chrono::seconds(1)) == std::chrono::seconds(5));
    CHECK(stale_after(std::chrono::seconds(10)) == std::chrono::seconds(30));
    Probe p;
    p.conditioner->advance(Instant(from_seconds(-60)), p.out);
    CHECK_FALSE(p.signal().age);
    CHECK(*p.signal().silent_since == Instant(from_seconds(-60)));
    p.take(88);
    p.conditioner->advance(Instant(from_seconds(5)), p.out);
    CHECK(p.signal().fresh);
    p.conditioner->advance(Instant(from_seconds(5.001)), p.out);
    CHECK_FALSE(p.signal().fresh);
    CHECK(*p.signal().age == Span(5001));
    CHECK(p.signal().celsius == 88);
}

// field case F20
TEST_CASE("F20: calibrating twice does not add up; raw and corrected are both kept") {
    Probe p(ProbeJob::liquid);
    for (int i = 0; i < 2; ++i) {
        p.conditioner->calibrate({{{34.0}, {30.0}}});
        p.take(34.0);
        CHECK(p.signal().celsius == 30.0);
        CHECK(*p.rows().back().raw == 34.0);
        CHECK(*p.rows().back().celsius == 30.0);
    }
    Memory memory;
    p.conditioner->remember(memory, "probe.stock.");
    Probe next(ProbeJob::liquid);
    next.conditioner->recall(memory, "probe.stock.");
    next.take(34.0);
    CHECK(next.signal().celsius == 30.0);
}

TEST_CASE("a stored calibration that no command would be granted is left out: the kitchen file's stays") {
    Memory memory;
    memory.put("probe.stock.calibration.points", std::int64_t{1});
    memory.put("probe.stock.calibration.0.reads", 100.0);
    memory.put("probe.stock.calibration.0.is", 60.0);
    Probe p(ProbeJob::liquid);
    p.conditioner->calibrate({{{34.0}, {30.0}}});
    p.conditioner->recall(memory, "probe.stock.");
    p.take(34.0);
    CHECK(p.signal().celsius == 30.0);
}

TEST_CASE("noise and resolution are learnt") {
    std::mt19937_64 random(2);
    std::normal_distribution<double> noise(0, 0.3);
    Probe smooth, stepped;
    for (int i = 0; i < 2000; ++i) {
        double const x = 80 + 0.005 * i + noise(random);
        smooth.take(x);
        stepped.take(std::round(x * 4) / 4);
    }
    CHECK_THAT(smooth.signal().noise, WithinRel(0.3, 0.15));
    CHECK(smooth.signal().step < 0.01);
    CHECK_THAT(stepped.signal().step, WithinAbs(0.25, 1e-9));
    CHECK(smooth.count(Quality::rejected) <= 2);
    CHECK_THAT(smooth.signal().slope, WithinAbs(0.005, 0.006));
}

TEST_CASE("coarse steps are neither spikes nor changes of slope") {
    for (double const step : {0.25, 5.0 / 9, 1.0})
        for (double const noise_sd : {0.02, 0.1, 0.3})
            for (double const per_minute : {0.0, 0.3, 1.0, 3.0}) {
                CAPTURE(step, noise_sd, per_minute);
                std::mt19937_64 random(1);
                std::normal_distribution<double> noise(0, noise_sd);
                Probe p;
                double squares = 0, ratio = 0;
                int const n = 1800, settled = 300;
                for (int i = 0; i < n; ++i) {
                    double const x = 20 + per_minute / 60 * i + noise(random);
                    p.take(std::round(x / step) * step);
                    if (i < settled) continue;
                    double const miss = p.signal().slope - per_minute / 60;
                    squares += miss * miss * 3600 / (n - settled);
                    ratio += miss * miss / p.signal().slope_variance / (n - settled);
                }
                CHECK(std::sqrt(squares) < 0.15);  // K/min
                CHECK(ratio < 1);                  // no more certain than it may be
                CHECK(p.signal().jumps == 0);
                CHECK(p.count(Quality::rejected) <= 6);
            }
}

TEST_CASE("a turned knob is followed within half a minute, a probe moved to another pot at once") {
    std::mt19937_64 random(4);
    std::normal_distribution<double> noise(0, 0.1);
    Probe p;
    for (int i = 0; i < 1200; ++i) p.take(80 + noise(random));
    CHECK_THAT(p.signal().slope, WithinAbs(0, 0.003));
    for (int i = 0; i < 40; ++i) p.take(80 + 1.4 / 60 * i + noise(random));
    CHECK_THAT(p.signal().slope * 60, WithinAbs(1.4, 0.35));
    for (int i = 0; i < 5; ++i) p.take(20 + noise(random));
    CHECK_THAT(p.signal().level, WithinAbs(20, 0.2));
}

TEST_CASE("a thermostat's cycle: period, mean and extremes, and a door does not hide it") {
    Probe p(ProbeJob::oven);
    double const period = 480;
    auto const run = [&](double minutes) {
        double const end = p.t + minutes * 60;
        while (p.t < end) p.take(200 + 8 * std::sin(2 * std::numbers::pi * p.t / period));
    };
    for (double x = 20; x < 200; x += 0.2) p.take(x);  // warming up
    run(10);
    CHECK_FALSE(p.signal().cycle);
    run(40);
    REQUIRE(p.signal().cycle);
    CHECK_THAT(p.signal().cycle->period_s, WithinRel(480, 0.02));
    CHECK_THAT(p.signal().cycle->mean, WithinAbs(200, 0.3));
    CHECK_THAT(p.signal().cycle->high, WithinAbs(208, 0.5));
    CHECK_THAT(p.signal().cycle->low, WithinAbs(192, 0.5));
    for (int i = 0; i < 60; ++i) p.take(160);  // a door
    run(8);
    CHECK(p.signal().cycle);
    run(40);
    REQUIRE(p.signal().cycle);
    CHECK_THAT(p.signal().cycle->low, WithinAbs(192, 0.5));

    SECTION("steady noise is no cycle") {
        std::mt19937_64 random(6);
        std::normal_distribution<double> noise(0, 0.3);
        Probe quiet(ProbeJob::liquid);
        for (int i = 0; i < 20000; ++i) quiet.take(85 + noise(random));
        CHECK_FALSE(quiet.signal().cycle);
    }
}

TEST_CASE("a coarse instrument that climbs by two steps at once, twice, has no loose wire") {
    Probe p;
    for (int s = 0; s < 60; ++s) p.take(s % 9 == 4 ? 84.5 : 84);
    for (double const c : {84.5, 85.0, 85.0, 85.0, 85.5, 85.5, 85.5, 86.0, 86.0, 87.0, 87.0, 87.0, 88.0, 87.5,
                           88.5, 88.5, 88.5, 89.0, 89.0, 90.0, 90.0, 90.0, 90.5, 91.0, 91.5, 91.5, 92.0}) {
        p.take(c);
        CHECK(p.signal().scattered == 0);
    }
    SECTION("one that goes there and back by more has") {
        for (double const c : {86.0, 86.0, 86.0, 91.0, 91.0, 91.0, 86.0, 86.0, 86.0}) p.take(c);
        CHECK(p.signal().scattered > 0);
    }
}

TEST_CASE("jobs follow from the kitchen file") {
    Settings s;
    s.probes.resize(4);
    s.vessels.push_back({.name = "fridge", .kind = VesselKind::fridge, .medium = 1, .more = {2}});
    s.dishes.push_back({.name = "trout", .vessel = 0, .core = 2});
    CHECK(job_of(s, 0) == ProbeJob::unknown);
    CHECK(job_of(s, 1) == ProbeJob::fridge);
    CHECK(job_of(s, 2) == ProbeJob::core);
    // A21: a broken module that reports 150.0 is a fault, not a fridge at 150.
    CHECK(plausible_range(ProbeJob::fridge).second < 150);
}

TEST_CASE("the cost of a reading is small and does not grow with the cook") {
    Probe p;
    auto const cost = [&](int readings) {
        std::mt19937 random(1);
        auto const began = std::chrono::steady_clock::now();
        for (int i = 0; i < readings; ++i) {
            p.take(85 + 0.25 * static_cast<double>(random() % 3));
            p.out.clear();
        }
        return std::chrono::duration<double, std::micro>(std::chrono::steady_clock::now() - began).count() /
               readings;
    };
    double const early = cost(20000);
    for (int i = 0; i < 4; ++i) cost(20000);
    double const late = cost(20000);
    CHECK(late < 3 * early + 1);  // a loaded machine blurs it; the budget itself is in tests/bench
    WARN("conditioning: " << late << " us per reading");
}
