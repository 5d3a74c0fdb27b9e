#include "drivers/serial_line/decode.hpp"

#include <clocale>
#include <random>

#include "drivers/serial_line/source.hpp"
#include "tests/support/catch.hpp"

using namespace ingle;

namespace {

constexpr auto C = TextUnit::celsius;
constexpr auto F = TextUnit::fahrenheit;

using Value = std::optional<std::variant<double, Fault>>;

Value read(std::string_view line, std::string_view channel = "1", std::optional<TextUnit> unit = C,
           Comma comma = Comma::careful) {
    return value_of(decode_line(line, comma), channel, unit);
}
double number(Value const& value) {
    REQUIRE(value);
    if (auto const* fault = std::get_if<Fault>(&*value)) FAIL(fault->reason);
    return std::get<double>(*value);
}
Fault fault(Value const& value) {
    REQUIRE(value);
    if (auto const* good = std::get_if<double>(&*value)) FAIL(*good);
    return std::get<Fault>(*value);
}

struct Row {
    std::size_t channel;
    double celsius;
    bool operator==(Row const&) const = default;
};

// Feeds the bytes in pieces, 1 s apart, to a source that has been open for long.
std::vector<Row> rows(std::string const& bytes, std::size_t piece, std::vector<SourceChannel> channels,
                      Comma comma = Comma::careful) {
    SerialSource source(std::move(channels), comma);
    std::vector<Row> found;
    Instant at{};
    (void)source.bytes(at, "tail\nwarm=0\n");  // opens the settle window
    at += Span(60'000);
    for (std::size_t from = 0; from < bytes.size(); from += piece, at += Span(1000))
        for (auto const& [index, reading] :
             source.bytes(at, std::string_view(bytes).substr(from, piece)).readings)
            if (reading.ok()) found.push_back({index, reading.celsius()});
    return found;
}

std::vector<Row> in_all_pieces(std::string const& bytes, std::vector<SourceChannel> channels) {
    auto const whole = rows(bytes, bytes.size(), channels);
    for (std::size_t piece = 1; piece <= 69; ++piece) {
        INFO("in pieces of " << piece);
        CHECK(rows(bytes, piece, channels) == whole);
    }
    return whole;
}

}  // namespace

TEST_CASE("every shape of line is understood") {
    CHECK(number(read("88.5")) == 88.5);
    CHECK(number(read("-0.5")) == -0.5);
    CHECK(number(read("+4.25")) == 4.25);
    CHECK(number(read("1e3")) == 1000.0);
    CHECK(number(read("88.5,4.1", "2")) == 4.1);
    CHECK(number(read("88.5; 4.1", "2")) == 4.1);
    CHECK(number(read("88.5 4.1", "2")) == 4.1);
    CHECK(number(read("88.5\t4.1", "1")) == 88.5);
    CHECK(number(read("12345,74.25,22.50,0", "2")) == 74.25);
    CHECK(number(read("T1=88.5 T2=4.1", "T1")) == 88.5);
    CHECK(number(read("T1=88.5 T2=4.1", "T2")) == 4.1);
    CHECK(number(read("T1=88.5,T2=4.1", "T2")) == 4.1);
    CHECK(number(read("T1=88.5;T2=4.1;", "T2")) == 4.1);
    CHECK(number(read("t1 = 88.5 C t2 = 4.1 C", "t2")) == 4.1);
    CHECK(number(read("T1:88.5", "T1")) == 88.5);
    CHECK(number(read("T1: 88.5 T2: 4.1", "T2")) == 4.1);
    CHECK(number(read("T1,88.5", "T1")) == 88.5);
    CHECK(number(read("T1,88.5,T2,4.1", "T2")) == 4.1);
    CHECK(number(read(R"({"T1": 88.5, "T2": "4.1 C"})", "T1")) == 88.5);
    CHECK(number(read(R"({"T1": 88.5, "T2": "4.1 C"})", "T2")) == 4.1);
    CHECK(number(read("74.25 C")) == 74.25);
    CHECK(number(read("74.25 \xC2\xB0\x43")) == 74.25);
    CHECK(number(read("74.25 \xB0\x43")) == 74.25);
    CHECK_FALSE(read("T1=88.5", "T2"));
    CHECK_FALSE(read("T1=88.5", "1"));
    CHECK_FALSE(read("88.5", "2"));
}

// field case G1, G2
TEST_CASE("units: one is needed, and two must agree (G1, G2)") {
    CHECK_THAT(number(read("T1=190.2F", "T1", std::nullopt)), WithinAbs((190.2 - 32) / 1.8, 1e-9));
    CHECK_THAT(number(read("P1=203.0", "P1", F)), WithinAbs(95.0, 1e-9));
    CHECK_THAT(number(read("P1=203.0F", "P1", F)), WithinAbs(95.0, 1e-9));
    CHECK_THAT(number(read("361.65 K", "1", std::nullopt)), WithinAbs(88.5, 1e-9));
    CHECK(fault(read("P1=203.0F", "P1", C)).kind == FaultKind::garbled);
    CHECK_THAT(fault(read("P1=203.0F", "P1", C)).reason, INGLE_CONTAINS("disagrees"));
    CHECK_THAT(fault(read("88.5", "1", std::nullopt)).reason, INGLE_CONTAINS("no unit"));
}

// field case G3
TEST_CASE("a decimal comma is never the number before it (G3)") {
    for (auto const* line : {"P1=58,5", "P1=58,5 C", "P1:58,5"})
        CHECK_THAT(fault(read(line, "P1")).reason, INGLE_CONTAINS("decimal comma"));
    for (auto const* line : {"58,5", "-18,5", "58,5 C", "58,5,61,2"})
        CHECK_THAT(fault(read(line)).reason, INGLE_CONTAINS("decimal comma"));
    CHECK(number(read("58,5", "1", C, Comma::decimal)) == 58.5);
    CHECK(number(read("P1=58,5 P2=4,1", "P2", C, Comma::decimal)) == 4.1);
    CHECK(number(read("58,5;4,1", "2", C, Comma::decimal)) == 4.1);
    CHECK(number(read("58,5", "2", C, Comma::separator)) == 5.0);
    CHECK_FALSE(std::setlocale(LC_ALL, "xx_YY") != nullptr);
    if (std::setlocale(LC_ALL, "de_DE.UTF-8")) {
        CHECK(number(read("P1=58.5", "P1")) == 58.5);
        CHECK(number(read(R"({"P1": 58.5})", "P1")) == 58.5);
        std::setlocale(LC_ALL, "C");
    }
}

// field case B17
TEST_CASE("words for no reading are faults with the source's own text, never 0 (B17)") {
    CHECK(fault(read("P1=ERR", "P1")).kind == FaultKind::unspecified);
    CHECK_THAT(fault(read("P1=ERR", "P1")).reason, INGLE_CONTAINS("ERR"));
    CHECK(fault(read("P1=", "P1")).kind == FaultKind::garbled);
    CHECK_THAT(fault(read("P1=--.-", "P1")).reason, INGLE_CONTAINS("--.-"));
    CHECK_THAT(fault(read("P1=Unable to read", "P1")).reason, INGLE_CONTAINS("Unable to read"));
    CHECK_THAT(fault(read("P1=Unable to read P2=4.1", "P1")).reason, INGLE_CONTAINS("Unable to read"));
    CHECK(number(read("P1=Unable to read P2=4.1", "P2")) == 4.1);
    CHECK(fault(read("t1=open", "t1")).kind == FaultKind::open);
    CHECK(fault(read("open,4.1")).kind == FaultKind::open);
    CHECK(number(read("open,4.1", "2")) == 4.1);
    CHECK(fault(read("SCG")).kind == FaultKind::short_to_ground);
    CHECK(fault(read("88.5,,4.1", "2")).kind == FaultKind::garbled);
    CHECK(fault(read(R"({"T1": null})", "T1")).kind == FaultKind::unspecified);
    CHECK(fault(read(R"({"T1": true})", "T1")).kind == FaultKind::garbled);
    CHECK(fault(read(R"({"T1": [1]})", "T1")).kind == FaultKind::garbled);
}

// field case A12
TEST_CASE("absurd numbers are no readings (A12)") {
    CHECK(fault(read("P1=59000", "P1")).kind == FaultKind::out_of_range);
    CHECK_THAT(fault(read("P1=59000", "P1")).reason, INGLE_CONTAINS("59000"));
    for (auto const* text :
         {"nan", "NaN", "inf", "-inf",    "+inf",  "-1e9",     "2e8",   "1e999", "-1e999", "0x59", "88.1.2",
          ".25", "-.5", "74.", "7474.25", "88.5x", "88.5 bar", "8 8.5", "-300",  "1e",     "--5"}) {
        INFO(text);
        CHECK_FALSE(fault(read(std::string("P1=") + text, "P1")).reason.empty());
    }
    CHECK(fault(read("P1=88.1 P1=88.2", "P1")).kind == FaultKind::garbled);
}

TEST_CASE("banners, comments and noise say nothing") {
    for (auto const* line :
         {"", "   ", "# boot v1", "READY", "boot v1.2", "cal 0.0", "74.25 volts later", "{", "[1]"})
        for (auto const* channel : {"1", "2"}) {
            INFO(line);
            CHECK_FALSE(read(line, channel));
        }
    CHECK(decode_line("# boot v1").says == LineSays::nothing);
    CHECK(decode_line("READY").says == LineSays::banner);
    CHECK(decode_line("\x80\xFE\x80P1=88.5").says == LineSays::binary);
    CHECK(decode_line(std::string_view("\0\xFF\xFE"
                                       "74",
                                       5))
              .says == LineSays::binary);
    CHECK(decode_line("8\xC2").says == LineSays::binary);
}

// field case B1
TEST_CASE("what comes before the first line end is dropped (B1)") {
    SerialSource source({{"P1", C}, {"P2", C}}, Comma::careful);
    auto const heard = source.bytes(Instant{}, "8.4\r\nP1=88.5\r\nP2=4.1\r\nP1=88.5\r\nP2=4.1\r\n");
    REQUIRE(heard.readings.size() == 4);  // two that agree settle it, and nothing is lost
    CHECK(heard.readings[0].second.celsius() == 88.5);
    CHECK(heard.readings[2].second.celsius() == 4.1);
    SerialSource number_only({{"1", C}}, Comma::careful);
    CHECK(number_only.bytes(Instant{}, "4.25\n").readings.empty());
}

// field case B2
TEST_CASE("the same bytes in pieces of any size give the same rows (B2)") {
    auto const found = in_all_pieces("P1=88.5\r\nP2=4.1\r\nP1=88.6\r\nP2=4.0\r\nP1=88.7\r\nP2=3.9\r\n",
                                     {{"P1", C}, {"P2", C}});
    CHECK(found == std::vector<Row>{{0, 88.5}, {1, 4.1}, {0, 88.6}, {1, 4.0}, {0, 88.7}, {1, 3.9}});
    CHECK(in_all_pieces("88.5\r88.6\r\r88.7\r", {{"1", C}}).size() == 3);
    CHECK(in_all_pieces("88.5\n\n88.6\n", {{"1", C}}).size() == 2);
    CHECK(
        in_all_pieces("P1=59000\nP1=88.1\nP1=nan\nP1=inf\nP1=-1e9\nP1=0x59\nP1=88.1.2\nP1=88.2\nP1=ERR\nP1=\n"
                      "P1=--.-\nP1=Unable to read\nP1=58,5\nP1=203.0F\n",
                      {{"P1", C}}) == std::vector<Row>{{0, 88.1}, {0, 88.2}});
}

TEST_CASE("several readings in one piece are a burst") {
    SerialSource source({{"1", C}}, Comma::careful);
    (void)source.bytes(Instant{}, "\n20\n");
    auto const together = source.bytes(Instant{Span(5000)}, "20\n20.5\n21\n");
    REQUIRE(together.readings.size() == 3);
    for (auto const& [channel, reading] : together.readings) CHECK(reading.burst);
    CHECK(source.bytes(Instant{Span(5010)}, "21\n").readings.at(0).second.burst);
    CHECK_FALSE(source.bytes(Instant{Span(6000)}, "21\n").readings.at(0).second.burst);
}

// field case B3
TEST_CASE("another speed gives no row and says so (B3)") {
    std::string const noise(
        "\x00\x80\x78\x00\x80\x78\x1E\x80\x00\x80\x35\x0A\x80\xFE\x00\x80\x50\x31\x3D\x0D\x0A", 21);
    for (std::size_t piece = 1; piece <= 69; ++piece) {
        SerialSource source({{"P1", C}, {"1", C}}, Comma::careful);
        std::string stream;
        for (int i = 0; i < 40; ++i) stream += noise;
        int told = 0;
        for (std::size_t from = 0; from < stream.size(); from += piece) {
            auto const heard = source.bytes(Instant{Span(static_cast<long>(from) * 10)},
                                            std::string_view(stream).substr(from, piece));
            CHECK(heard.readings.empty());
            for (auto const& [event, text] : heard.events) {
                CHECK(event == "not-understandable");
                CHECK_THAT(text, INGLE_CONTAINS("check speed and parity"));
                ++told;
            }
        }
        CHECK(told == 1);
        auto const why = source.silence(0, Instant{Span(static_cast<long>(stream.size()) * 10)}, Span(3000));
        CHECK(why.kind == FaultKind::garbled);
    }
}

// field case B10
TEST_CASE("every other byte went to another reader: no row, and that is said") {
    SerialSource source({{"P1", TextUnit::celsius}, {"P2", TextUnit::celsius}}, Comma::careful);
    std::string const line = "P1=88.5\r\nP2=4.1\r\n";
    std::string ours;
    for (std::size_t i = 0; i < 40 * line.size(); i += 2) ours += line[i % line.size()];
    source.opened();
    CHECK(source.bytes(Instant{}, ours).readings.empty());
    CHECK_THAT(source.silence(0, Instant{Span(1)}, Span(1000)).reason,
               INGLE_CONTAINS("another program reads this port"));
}

// field case B4
TEST_CASE("a source that never ends a line cannot fill the memory (B4)") {
    LineAssembler lines;
    std::string const block(4096, 'A');
    for (int i = 0; i < 1280; ++i) {  // 5 MiB
        CHECK(lines.push(block).empty());
        CHECK(lines.waiting() <= LineAssembler::longest);
    }
    CHECK(lines.overlong() == 1);
    CHECK(lines.push("\n88.5\n") == std::vector<std::string>{"88.5"});
    SerialSource source({{"1", C}}, Comma::careful);
    (void)source.bytes(Instant{}, block);
    CHECK_THAT(source.silence(0, Instant{}, Span(1000)).reason, INGLE_CONTAINS("never ends a line"));
}

// field case B5
TEST_CASE("what a board says while it restarts is no temperature (B5)") {
    std::string const start = "\r\nboot v1.2\r\ncal 0.0\r\nP1=0.00\r\nP2=0.00\r\nP1=61.3\r\nP2=4.0\r\n";
    for (std::size_t piece = 1; piece <= 69; ++piece) {
        SerialSource source({{"P1", C}, {"P2", C}, {"1", C}, {"2", C}}, Comma::careful);
        for (int opening = 0; opening < 2; ++opening) {
            std::vector<Row> found;
            auto const feed = [&](Instant at, std::string_view bytes) {
                for (std::size_t from = 0; from < bytes.size(); from += piece)
                    for (auto const& [index, reading] : source.bytes(at, bytes.substr(from, piece)).readings)
                        if (reading.ok()) found.push_back({index, reading.celsius()});
            };
            source.opened();
            feed(Instant{Span(1500)}, start);
            feed(Instant{Span(2500)}, "P1=61.4\r\nP2=4.0\r\n");
            CHECK(found == std::vector<Row>{{0, 61.3}, {0, 61.4}, {1, 4.0}, {1, 4.0}});
        }
    }
    SECTION("two zeros agree about nothing; after the settle time a zero is a temperature") {
        SerialSource source({{"1", C}}, Comma::careful);
        CHECK(source.bytes(Instant{}, "\n0.0\n0.0\n0.0\n").readings.empty());
        CHECK(source.bytes(Instant{Span(2499)}, "0.0\n").readings.empty());
        CHECK(source.bytes(Instant{Span(2500)}, "0.0\n").readings.size() == 1);
    }
}

TEST_CASE("silence says what kind of silence it is") {
    SerialSource source({{"T3", C}}, Comma::careful);
    CHECK_THAT(source.silence(0, Instant{Span(9000)}, Span(3000)).reason, INGLE_CONTAINS("nothing arrives"));
    for (int i = 0; i < 20; ++i) (void)source.bytes(Instant{Span(9000 + i)}, "\nT1=88.5 T2=4.1\n");
    auto const why = source.silence(0, Instant{Span(9100)}, Span(3000));
    CHECK(why.kind == FaultKind::no_reply);
    CHECK_THAT(why.reason, INGLE_CONTAINS("T1, T2"));
    CHECK_THAT(source.silence(0, Instant{Span(20'000)}, Span(3000)).reason, INGLE_CONTAINS("for 10 s"));
    for (int i = 0; i < 12; ++i) (void)source.bytes(Instant{Span(21'000)}, "half a li\n");
    CHECK_THAT(source.silence(0, Instant{Span(21'000)}, Span(3000)).reason,
               INGLE_CONTAINS("another program"));
}

TEST_CASE("a channel that was heard is not said to be in no line") {
    SerialSource source({{"T1", C}, {"2", C}}, Comma::careful);
    (void)source.bytes(Instant{Span(1000)}, "\nT1=88.5 T2=4.1\n");
    auto const starting = source.silence(0, Instant{Span(1200)}, Span(300)).reason;
    CHECK_THAT(starting, INGLE_CONTAINS("\"T1\" is just being heard"));
    CHECK_THAT(starting, !INGLE_CONTAINS("none holds"));
    CHECK(source.bytes(Instant{Span(2000)}, "T1=88.5 T2=4.1\n").readings.size() == 2);
    for (int i = 0; i < 5; ++i) (void)source.bytes(Instant{Span(3000 + 1000 * i)}, "T2=4.1\n");
    CHECK_THAT(source.silence(0, Instant{Span(7100)}, Span(3000)).reason,
               INGLE_CONTAINS("\"T1\" was in some of them, but is not in the newest"));
    CHECK_THAT(source.silence(1, Instant{Span(7100)}, Span(3000)).reason,
               INGLE_CONTAINS("none holds channel \"2\""));
}

TEST_CASE("any bytes at all: no crash, no memory, nothing that is not finite") {
    std::mt19937 random(7);
    std::string const alphabet = "T1=:,; 0123456789.-+eE{}\"\n\r\tnaif\xB0\xC2\x00CF";
    for (int round = 0; round < 300; ++round) {
        SerialSource source({{"T1", C}, {"1", std::nullopt}, {"2", F}}, Comma::careful);
        std::string stream;
        for (int i = 0; i < 600; ++i) stream += alphabet[random() % alphabet.size()];
        for (auto const& [index, reading] : source.bytes(Instant{}, stream).readings)
            if (reading.ok()) CHECK((reading.celsius() >= -273.15 && reading.celsius() <= 1820));
    }
}
