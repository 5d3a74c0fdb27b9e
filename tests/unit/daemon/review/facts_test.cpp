// The facts of a review against sums done by hand, which stand beside each check.
#include "daemon/review/facts.hpp"

#include <algorithm>
#include <cmath>
#include <fstream>
#include <map>
#include <sstream>

#include "daemon/food/step.hpp"
#include "tests/support/catch.hpp"

using namespace ingle;

namespace {

CookSeries series(std::string probe, double every_s, std::vector<std::pair<double, double>> const& points) {
    CookSeries made;
    made.probe = std::move(probe);
    made.every_s = every_s;
    for (auto const& [t, c] : points) made.samples.push_back({t, c, false});
    return made;
}

CookRecord cook(std::string food, double length_s) {
    CookRecord record;
    record.dish.name = "goose-roll";
    record.dish.food = std::move(food);
    record.units = TemperatureUnit::fahrenheit;
    record.length_s = length_s;
    record.over = true;
    CookVessel pot;
    pot.name = "stockpot";
    record.vessels.push_back(pot);
    CookStage stage;
    stage.name = "poach";
    stage.vessel = 0;
    stage.ended = length_s;
    stage.over = true;
    record.stages.push_back(stage);
    return record;
}

Verdict const& verdict(CookFacts const& facts, std::string const& rule) {
    auto const found = std::ranges::find(facts.food.verdicts, rule, &Verdict::rule);
    REQUIRE(found != facts.food.verdicts.end());
    return *found;
}

// Up to 80 degC in 10 min, at 90 by 20, 95 at 25, back at 90 by 30, 85 at 40, down to 77 by 50, 80 at 55; not
// read until 75, then 88 and 88 until 85 min.
CookRecord held() {
    auto record = cook("", 5100);
    record.stages[0].band = Band{{80}, {90}};
    record.vessels[0].medium = series("stock", 200,
                                      {{0, 70},
                                       {600, 80},
                                       {1200, 90},
                                       {1500, 95},
                                       {1800, 90},
                                       {2400, 85},
                                       {3000, 77},
                                       {3300, 80},
                                       {4500, 88},
                                       {5100, 88}});
    return record;
}

// Rows of tests/reference/series/turkey_oven_2015.csv: minute, degF.
std::vector<std::pair<double, double>> turkey() {
    std::ifstream in(TEST_DATA "/reference/series/turkey_oven_2015.csv");
    std::vector<std::pair<double, double>> rows;
    std::string line;
    while (std::getline(in, line)) {
        double minute = 0, f = 0;
        char comma = 0;
        std::istringstream cells(line);
        if (cells >> minute >> comma >> f) rows.emplace_back(minute, f);
    }
    return rows;
}

// Seconds asked for at each whole degree: the longest printed for 12 % of fat, chicken or turkey.
std::map<int, double> asked_of_poultry() {
    std::ifstream in(TEST_DATA "/reference/food-safety/fsis_poultry.csv");
    std::map<int, double> asked;
    std::string line;
    while (std::getline(in, line)) {
        std::istringstream cells(line);
        std::string species, f, fat, printed, s;
        std::getline(cells, species, ',');
        std::getline(cells, f, ',');
        std::getline(cells, fat, ',');
        std::getline(cells, printed, ',');
        std::getline(cells, s, ',');
        if (fat == "12") asked[std::stoi(f)] = std::max(asked[std::stoi(f)], std::stod(s));
    }
    return asked;
}

}  // namespace

TEST_CASE("time in band and excursions are those of a hand calculation") {
    auto const facts = band_facts(held());
    REQUIRE(facts.size() == 1);
    auto const& band = facts[0];
    CHECK_THAT(band.reached_s.value(), WithinAbs(600, 1e-6));
    // From 10 to 85 min 4500 s; 55 to 75 min are 1200 s without a reading (more than three turns of 200 s).
    CHECK_THAT(band.without_s, WithinAbs(1200, 1e-6));
    // Above: 20 to 30 min. Below: from 40 min on it falls 8 K in 600 s, so 5 K take 375 s: 2775 to 3300 s.
    CHECK_THAT(band.above_s, WithinAbs(600, 1e-3));
    CHECK_THAT(band.below_s, WithinAbs(525, 1e-3));
    CHECK_THAT(band.in_s, WithinAbs(4500 - 1200 - 600 - 525, 1e-3));
    CHECK_THAT(band.share().value(), WithinAbs(2175.0 / 3300, 1e-6));
    CHECK_THAT(band.worst_share().value(), WithinAbs(2175.0 / 4500, 1e-6));
    REQUIRE(band.excursions.size() == 2);
    auto const &up = band.excursions[0], &down = band.excursions[1];
    CHECK(up.above);
    CHECK_THAT(up.from, WithinAbs(1200, 1e-3));
    CHECK_THAT(up.seconds(), WithinAbs(600, 1e-3));
    CHECK_THAT(up.depth_k, WithinAbs(5, 1e-6));
    CHECK_THAT(up.area_k_min, WithinAbs(5.0 * 10 / 2, 1e-4));  // a triangle 5 K high, 10 min long
    CHECK_FALSE(up.cut);
    CHECK_FALSE(down.above);
    CHECK_THAT(down.from, WithinAbs(2775, 1e-3));
    CHECK_THAT(down.depth_k, WithinAbs(3, 1e-6));
    CHECK_THAT(down.area_k_min, WithinAbs(3.0 * 525 / 60 / 2, 1e-4));
    // Time-weighted mean of the measured lines, in K above 80 and minutes:
    // 5*10 + 12.5*5 + 12.5*5 + 7.5*10 + 1*10 - 1.5*5 + 8*10 = 332.5 over 55 min.
    CHECK_THAT(band.mean_c.value(), WithinAbs(80 + 332.5 / 55, 1e-6));
}

TEST_CASE("a gap cuts an excursion and counts against the band only in the worst case") {
    auto record = held();
    // Above the band on both sides of the hole.
    record.vessels[0].medium.samples = {{0, 85, false},    {600, 85, false},  {900, 95, false},
                                        {2400, 95, false}, {3000, 85, false}, {5100, 85, false}};
    record.vessels[0].medium.every_s = 700;
    record.vessels[0].medium.samples[3].t = 4000;
    record.vessels[0].medium.samples[4].t = 4600;
    auto const band = band_facts(record).at(0);
    CHECK_THAT(band.without_s, WithinAbs(3100, 1e-6));
    REQUIRE(band.excursions.size() == 2);
    CHECK(band.excursions[0].cut);
    CHECK(band.excursions[1].cut);
    CHECK(band.worst_share().value() < band.share().value());
    auto const gaps = gap_facts(record);
    REQUIRE(gaps.size() == 1);
    CHECK_THAT(gaps[0].to - gaps[0].from, WithinAbs(3100, 1e-6));
}

TEST_CASE("a band that was never reached is told as such") {
    auto record = held();
    record.stages[0].band = Band{{120}, {130}};
    auto const band = band_facts(record).at(0);
    CHECK_FALSE(band.reached_s);
    CHECK_FALSE(band.share());
    CHECK(band.excursions.empty());
}

TEST_CASE("what people hold a vessel at replaces the stage's band from then on") {
    auto record = held();
    record.vessels[0].changes.push_back({1800, Band{{60}, {100}}});
    auto const facts = band_facts(record);
    REQUIRE(facts.size() == 2);
    CHECK_THAT(facts[0].to, WithinAbs(1800, 1e-9));
    CHECK_THAT(facts[1].below_s + facts[1].above_s, WithinAbs(0, 1e-9));
}

TEST_CASE("the time to acknowledge runs from the raise") {
    auto record = held();
    record.alarms = {{100, 7, "above-band", "stockpot", "raised", "medium", "too hot", ""},
                     {150, 8, "below-band", "stockpot", "raised", "medium", "too cold", ""},
                     {340, 7, "above-band", "stockpot", "acknowledged", "medium", "too hot", "kim"},
                     {400, 7, "above-band", "stockpot", "cleared", "medium", "too hot", ""}};
    auto const alarms = alarm_facts(record);
    REQUIRE(alarms.size() == 2);
    CHECK_THAT(alarms[0].to_acknowledge_s().value(), WithinAbs(240, 1e-9));
    CHECK(alarms[0].acknowledged_by == "kim");
    CHECK_FALSE(alarms[1].to_acknowledge_s());
}

TEST_CASE("an alarm is over when it first cleared, unless it came again") {
    auto record = held();
    auto const step = [](double t, std::int64_t alarm, char const* what) {
        return CookAlarmStep{t, alarm, "above-band", "stockpot", what, "medium", "too hot", ""};
    };
    // 7: returned, and normal at the end of the cook; 8: came again before it was over.
    record.alarms = {step(100, 7, "raised"),   step(160, 8, "raised"),  step(200, 7, "cleared"),
                     step(220, 8, "cleared"),  step(240, 8, "raised"),  step(300, 8, "cleared"),
                     step(5000, 7, "cleared"), step(5000, 8, "cleared")};
    auto const alarms = alarm_facts(record);
    REQUIRE(alarms.size() == 2);
    CHECK_THAT(alarms[0].cleared.value(), WithinAbs(200, 1e-9));
    CHECK_THAT(alarms[1].cleared.value(), WithinAbs(300, 1e-9));
}

TEST_CASE("gaps of several probes at one time are blind once") {
    // 0 to 100 and 50 to 150 overlap (150), 60 to 90 lies inside, 200 to 210 stands alone: 160 in all.
    std::vector<GapFacts> gaps(4);
    double const ends[][2] = {{0, 100}, {50, 150}, {60, 90}, {200, 210}};
    for (std::size_t i = 0; i < 4; ++i) gaps[i].from = ends[i][0], gaps[i].to = ends[i][1];
    CHECK_THAT(blind_s(gaps), WithinAbs(160, 1e-9));
}

TEST_CASE("early words are scored by what came") {
    auto record = held();
    // One 200 s before it went above, one with nothing behind it; going below came without a word.
    record.alarms = {{1000, 1, "leaving-band", "stockpot", "raised", "low", "", ""},
                     {4600, 2, "leaving-band", "stockpot", "raised", "low", "", ""}};
    auto const facts = forecast_facts(record, band_facts(record), {}, {});
    REQUIRE(facts.warnings.size() == 2);
    CHECK_THAT(facts.warnings[0].lead_s.value(), WithinAbs(200, 1e-3));
    CHECK_FALSE(facts.warnings[1].lead_s);
    CHECK(facts.unwarned == 0);  // the fall at 2775 s is within half an hour of a word, too
    CHECK_THAT(facts.brier.value(), WithinAbs((0.2 * 0.2 + 0.8 * 0.8) / 2, 1e-9));
    record.alarms.erase(record.alarms.begin());
    CHECK(forecast_facts(record, band_facts(record), {}, {}).unwarned == 2);
}

TEST_CASE("the roast turkey: every verdict follows from the rows shown") {
    auto const rows = turkey();
    REQUIRE(rows.size() == 11);
    auto record = cook("whole-poultry", rows.back().first * 60);
    std::vector<std::pair<double, double>> points;
    for (auto const& [minute, f] : rows) points.emplace_back(minute * 60, (f - 32) / 1.8);
    record.cores.push_back(series("breast", 12 * 60, points));
    auto const facts = facts_of(record);
    auto const& core = facts.food.cores.at(0);

    // Danger zone: 55 degF at the start, 140 at minute 68.
    CHECK_THAT(core.danger.measured_s(), WithinAbs(68 * 60, 1e-3));
    CHECK_THAT(verdict(facts, "danger-zone").answer, INGLE_CONTAINS("1 h 08 min"));
    REQUIRE(core.danger.measured.size() == 1);
    CHECK_FALSE(core.danger.measured[0].begin.seen);  // it was inside when the cook began
    CHECK(core.danger.measured[0].end.seen);

    // Come-up: 55 degF at the start, 130 between 129 (min 56) and 140 (min 68): 56 + 12/11 min.
    CHECK_THAT(core.come_up.measured_s(), WithinAbs((56 + 12.0 / 11) * 60, 1e-3));

    // Lethality by hand: seconds at each whole degree along the lines, over what the table asks, times 7. The
    // last reading counts for nothing: no later one bears it out.
    auto const asked = asked_of_poultry();
    double by_hand = 0;
    for (int f = 136; f < 162; ++f) {
        double here = 0;
        for (std::size_t i = 1; i + 1 < rows.size(); ++i) {
            double const a = rows[i - 1].second, b = rows[i].second;
            double const part = std::min(b, f + 1.0) - std::max(a, static_cast<double>(f));
            if (part > 0) here += part / (b - a) * (rows[i].first - rows[i - 1].first) * 60;
        }
        by_hand += here / asked.at(f) * 7;
    }
    double of_rows = 0;
    for (auto const& row : core.table) {
        of_rows += row.seconds / row.rate_s * 7;
        CHECK_THAT(row.rate_s, WithinRel(asked.at(row.fahrenheit), 1e-9));
    }
    CHECK_THAT(of_rows, WithinRel(by_hand, 0.002));
    CHECK_THAT(core.log10.value(), WithinRel(by_hand, 0.002));
    CHECK(by_hand > 7);
    CHECK_THAT(verdict(facts, "core-target").answer, INGLE_CONTAINS("not reached"));  // never at 165
    CHECK_THAT(verdict(facts, "core-target").text, INGLE_CONTAINS("160.0 degF"));
}

TEST_CASE("straight pieces of a D and z food add up to what all readings come to") {
    auto record = cook("whole-meat", 4 * 3600);
    record.dish.thickness = Length{0.03};  // so thin that it shows no lag
    std::vector<std::pair<double, double>> points;
    // A core that comes up without a lag, with the steps of a coarse converter.
    for (int t = 0; t <= 4 * 3600; t += 10) {
        double const c = 72 - 65 * std::exp(-t / 4200.0);
        points.emplace_back(t, std::round(c * 4) / 4);
    }
    record.cores.push_back(series("roast", 10, points));
    auto const facts = facts_of(record);
    auto const& core = facts.food.cores.at(0);
    auto const& model = facts.food.log_linear;
    REQUIRE_FALSE(core.pieces.empty());
    CHECK(core.pieces.size() <= 40);
    double by_hand = 0;
    for (auto const& piece : core.pieces) {
        // Each row again, by small steps instead of the formula.
        constexpr int n = 2000;
        double sum = 0;
        for (int i = 0; i < n; ++i) {
            double const share = (i + 0.5) / n;
            double c = piece.begin.celsius + share * (piece.end.celsius - piece.begin.celsius);
            if (c < model.lowest_c) continue;
            c = std::min(c, model.highest_c);
            sum += std::pow(10, (c - model.t_ref_c) / model.z_k) * (piece.end.t - piece.begin.t) / n;
        }
        CHECK_THAT(piece.worth_s, WithinRel(sum, 0.002) || WithinAbs(sum, 0.01));
        by_hand += sum;
    }
    CHECK_THAT(by_hand, WithinRel(core.lethal_s, 0.01));
    CHECK_THAT(core.log10.value(), WithinRel(by_hand / model.d_ref_s, 0.01));
}

TEST_CASE("two-stage cooling: the crossings are shown, and what they come to") {
    auto record = cook("stock", 8 * 3600);
    record.stages[0].name = "cook";
    record.stages[0].ended = 3600;
    // 95 degC for an hour, then straight lines: 57.2 degC (135 degF) after 1 h 30, 21.1 (70) after 3 h 45:
    // 2 h 15 min for a stage that has 2 h.
    record.cores.push_back(series(
        "ladle", 300, {{0, 95}, {600, 95}, {1200, 95}, {1800, 95}, {2400, 95}, {3000, 95}, {3600, 95}}));
    auto& samples = record.cores[0].samples;
    double const c135 = (135 - 32) / 1.8, c70 = (70 - 32) / 1.8, c41 = 5.0;
    auto const line = [&](double t0, double c0, double t1, double c1) {
        for (double t = t0 + 300; t <= t1; t += 300)
            samples.push_back({t, c0 + (c1 - c0) * (t - t0) / (t1 - t0), false});
    };
    line(3600, 95, 5400, c135 - 0.001);
    line(5400, c135 - 0.001, 13500, c70 - 0.001);
    line(13500, c70 - 0.001, 8 * 3600, c41 + 1);
    auto const facts = facts_of(record);
    auto const& core = facts.food.cores.at(0);
    REQUIRE(core.cooling_from);
    CHECK(core.cooling_from->seen);
    CHECK_THAT(core.cooling_from->t, WithinAbs(5400, 1));
    REQUIRE(core.cooling.size() == 2);
    CHECK(core.cooling[0].passed);
    CHECK_THAT(core.cooling[0].took_most_s, WithinAbs(8100, 2));
    CHECK(core.cooling[0].at.before.celsius >= c70);
    CHECK(core.cooling[0].at.after.celsius <= c70);
    CHECK(core.cooling[0].answer == "missed");
    CHECK_FALSE(core.cooling[1].passed);
    CHECK(verdict(facts, "cooling").answer == "missed");
    CHECK(std::ranges::any_of(facts.next_time, [](auto const& said) {
        return said.find("15 min longer than the 2 h") != std::string::npos;
    }));
}

TEST_CASE("what was not read is possible, never measured, and makes no verdict better") {
    auto record = cook("whole-poultry", 3 * 3600);
    std::vector<std::pair<double, double>> points;
    for (int t = 0; t <= 3 * 3600; t += 60) points.emplace_back(t, 10 + t * 70.0 / (3 * 3600));
    record.cores.push_back(series("breast", 10, points));
    auto const whole = facts_of(record).food;
    std::erase_if(record.cores[0].samples, [](auto const& s) { return s.t > 3000 && s.t < 5000; });
    auto const holed = facts_of(record).food;
    auto const &a = whole.cores[0], &b = holed.cores[0];
    REQUIRE(b.danger.unseen.size() == 1);
    CHECK(b.danger.measured_s() < a.danger.measured_s());
    CHECK(b.danger.possible_s() >= a.danger.measured_s() - 1e-6);
    CHECK(b.log10.value() <= a.log10.value() + 1e-9);
}

TEST_CASE("a dish without a core is not known to be anything") {
    auto record = cook("whole-poultry", 3600);
    auto const facts = facts_of(record);
    CHECK(verdict(facts, "core-target").answer == "unknown");
    CHECK(verdict(facts, "lethality").answer == "unknown");
    CHECK(verdict(facts, "danger-zone").answer == "unknown");
}
