// Recorded sources: tests/logs/serial_line/<case>.log in, the readings of <case>.chk out, in pieces of any
// size.
#include <filesystem>
#include <fstream>
#include <nlohmann/json.hpp>
#include <sstream>

#include "drivers/bus/sysfs.hpp"
#include "drivers/serial_line/drops.hpp"
#include "drivers/serial_line/source.hpp"
#include "tests/support/catch.hpp"
#include "tests/support/pty.hpp"

using namespace ingle;

namespace {

std::string unescaped(std::string_view text) {
    std::string out;
    for (std::size_t i = 0; i < text.size(); ++i) {
        if (text[i] != '\\') {
            out += text[i];
        } else if (text[++i] == 'x') {
            out += static_cast<char>(std::stoi(std::string(text.substr(i + 1, 2)), nullptr, 16));
            i += 2;
        } else {
            out += text[i] == 'r' ? '\r' : '\n';
        }
    }
    return out;
}

std::string played(std::filesystem::path const& log, std::size_t piece) {
    std::vector<SourceChannel> const channels{{"P1", TextUnit::celsius}, {"P2", TextUnit::celsius}};
    SerialSource source(channels, Comma::careful);
    std::ifstream file(log);
    std::string result;
    for (std::string line; std::getline(file, line);) {
        if (line.empty() || line[0] == '#') continue;
        auto const space = line.find(' ');
        double const t = std::stod(line.substr(0, space));
        if (line[space + 1] == '!') {
            source.opened();
            continue;
        }
        auto const bytes = unescaped(std::string_view(line).substr(space + 3));
        for (std::size_t from = 0; from < bytes.size(); from += piece)
            for (auto const& [index, reading] :
                 source.bytes(Instant{from_seconds(t)}, std::string_view(bytes).substr(from, piece))
                     .readings) {
                nlohmann::ordered_json row{{"t", seconds(reading.at.time_since_epoch())},
                                           {"channel", channels[index].name}};
                if (reading.ok())
                    row["celsius"] = reading.celsius();
                else
                    row["fault"] = to_word(reading.fault().kind);
                for (auto const* key : {"t", "celsius"})  // whole numbers without a point
                    if (row.contains(key) && row[key] == static_cast<double>(row[key].get<long>()))
                        row[key] = row[key].get<long>();
                result += row.dump() + "\n";
            }
    }
    return result;
}

}  // namespace

// field case B14
TEST_CASE("an adapter that drops for seconds is counted, beside the board's word about its supply") {
    Drops drops;
    std::string last;
    int count = 0;
    auto const at = [](int s) { return Instant{Span(s * 1000)}; };
    for (int s = 0; s < 600; s += 20 + 10 * (count++ % 3)) {  // 2 s, every 20 to 40 s, for 10 min
        drops.lost(at(s));
        drops.lost(at(s + 1));  // told again while it is away
        last = drops.back(at(s + 2), true);
    }
    CHECK_THAT(last, INGLE_CONTAINS("was gone for 2 s, 21 times in the last 10 min"));
    CHECK_THAT(last, INGLE_CONTAINS("low supply voltage"));
    CHECK(drops.back(at(600 + 3 * 3600), false) == "was gone for 0 s");  // hours later: a first one again
    test::TempFolder sys;
    CHECK_FALSE(supply_is_low(sys.path()));
    std::filesystem::create_directories(sys / "class/hwmon/hwmon1");
    std::ofstream(sys / "class/hwmon/hwmon1/in0_lcrit_alarm") << "0\n";
    CHECK_FALSE(supply_is_low(sys.path()));
    std::ofstream(sys / "class/hwmon/hwmon1/in0_lcrit_alarm") << "1\n";
    CHECK(supply_is_low(sys.path()));
}

TEST_CASE("every recorded source gives its recorded readings, whole and in pieces of 1 to 69 bytes") {
    int logs = 0;
    for (auto const& entry : std::filesystem::directory_iterator(TEST_DATA "/logs/serial_line")) {
        if (entry.path().extension() != ".log") continue;
        ++logs;
        std::ifstream file(std::filesystem::path(entry.path()).replace_extension(".chk"));
        std::stringstream expected;
        expected << file.rdbuf();
        REQUIRE_FALSE(expected.str().empty());
        REQUIRE(played(entry.path(), 1'000'000) == expected.str());
        for (std::size_t piece = 1; piece <= 69; ++piece) {
            INFO("in pieces of " << piece);
            REQUIRE(played(entry.path(), piece) == expected.str());
        }
    }
    CHECK(logs >= 1);
}
