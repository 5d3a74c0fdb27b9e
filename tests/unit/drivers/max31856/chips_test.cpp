// The three thermocouple chips, bit by bit: emulated at the pins as their data sheets draw them. The real
// lines are proven on a real kernel elsewhere.
#include <algorithm>
#include <array>
#include <optional>
#include <thread>

#include "drivers/bus/spi.hpp"
#include "drivers/gpio_switch/contacts.hpp"
#include "drivers/max31856/device.hpp"
#include "drivers/thermocouple/chip_words.hpp"
#include "tests/support/catch.hpp"
#include "tests/support/driver_bench.hpp"

namespace ingle {
extern DriverInfo const max31855_driver;
extern DriverInfo const max6675_driver;
extern DriverInfo const max31856_driver;
extern DriverInfo const gpio_switch_driver;
}  // namespace ingle

using namespace ingle;
using test::DriverBench;

namespace {

// A chip that only talks: a falling select latches the frame and shows its first bit; each falling clock the
// next.
struct Talker {
    std::uint32_t frame = 0;
    int bits = 32;
    bool chosen = false;
    int position = 0, clocks = 0;
    bool clock_high_at_select = false;
    bool out() const { return position < bits && ((frame >> (bits - 1 - position)) & 1) != 0; }
};

// A MAX31856: address first, then registers that count up; writes with 80h. Shifts out with the rising edge
// and takes in with the falling one (mode 1).
struct Registers {
    std::array<std::uint8_t, 16> bytes{0x00, 0x03, 0xFF, 0x7F, 0xC0, 0x7F, 0xFF, 0x80};
    bool chosen = false, shown = false;
    int count = 0, asked = 0;
    unsigned in = 0, address = 0;
    void rise() {
        if (!chosen || count < 8) return;
        shown = ((bytes[(address & 0x0F) % 16] >> (7 - count % 8)) & 1) != 0;
    }
    void fall(bool mosi) {
        if (!chosen) return;
        in = ((in << 1) | (mosi ? 1 : 0)) & 0xFF;
        if (++count % 8 != 0) return;
        if (count == 8) {
            address = in;
        } else {
            if (address & 0x80) bytes[(address & 0x0F) % 16] = static_cast<std::uint8_t>(in);
            if (address == 0x80 && (in & 0x40)) ++asked;  // one value, please
            address = (address & 0x80) | ((address + 1) & 0x0F);
        }
    }
};

struct Board {
    std::vector<Talker> talkers;
    std::optional<Registers> registers;
    bool clock = false, mosi = false;
    int contentions = 0;
    struct Clock final : OutPin {
        Board* board;
        explicit Clock(Board* b) : board(b) {}
        void set(bool on) override {
            bool const rises = on && !board->clock, falls = !on && board->clock;
            board->clock = on;
            for (auto& chip : board->talkers)
                if (chip.chosen && falls) {
                    ++chip.position;
                    ++chip.clocks;
                }
            if (board->registers && rises) board->registers->rise();
            if (board->registers && falls) board->registers->fall(board->mosi);
        }
    } clock_pin{this};
    struct Data final : InPin {
        Board* board;
        explicit Data(Board* b) : board(b) {}
        bool get() override {
            if (board->registers && board->registers->chosen) return board->registers->shown;
            bool level = true;  // nobody drives the line: it is pulled up
            int driving = 0;
            for (auto const& chip : board->talkers)
                if (chip.chosen) {
                    level = level && chip.out();
                    ++driving;
                }
            if (driving > 1) ++board->contentions;
            return level;
        }
    } data_pin{this};
    struct Mosi final : OutPin {
        Board* board;
        explicit Mosi(Board* b) : board(b) {}
        void set(bool on) override { board->mosi = on; }
    } mosi_pin{this};
    struct Select final : OutPin {
        Board* board;
        int chip;
        Select(Board* b, int c) : board(b), chip(c) {}
        void set(bool on) override {
            if (chip < 0) {
                board->registers->chosen = on;
                board->registers->count = 0;
                return;
            }
            auto& talker = board->talkers[static_cast<std::size_t>(chip)];
            if (on && !talker.chosen) {
                talker.position = talker.clocks = 0;
                talker.clock_high_at_select = board->clock;
            }
            talker.chosen = on;
        }
    };
};

std::uint32_t read_word(Board& board, int chip, std::size_t bytes) {
    Board::Select select(&board, chip);
    std::array<std::uint8_t, 4> const nothing{};
    std::uint32_t word = 0;
    for (auto const byte : exchange_bits({board.clock_pin, board.data_pin, nullptr, select}, SpiMode::mode0,
                                         std::span(nothing).first(bytes)))
        word = (word << 8) | byte;
    return word;
}

}  // namespace

TEST_CASE("two chips on shared lines: every word comes as it was sent, clock for clock") {
    Board board;
    board.talkers = {Talker{}, Talker{}};
    std::vector<std::uint32_t> words{0, 0xFFFFFFFF, 0x01901900, 0xA1B2C3D4, 0x7FFD1701, 0xF060C900};
    for (int bit = 0; bit < 32; ++bit) words.push_back(1U << bit);
    for (std::size_t i = 0; i < words.size(); ++i) {
        board.talkers[0].frame = words[i];
        board.talkers[1].frame = words[words.size() - 1 - i];
        CHECK(read_word(board, 0, 4) == words[i]);
        CHECK(read_word(board, 1, 4) == words[words.size() - 1 - i]);
        CHECK(board.talkers[0].clocks == 32);
        CHECK_FALSE(board.talkers[0].clock_high_at_select);
    }
    CHECK(board.contentions == 0);
    CHECK_FALSE(board.clock);
    board.talkers = {Talker{0x0C98, 16}};
    CHECK(read_word(board, 0, 2) == 0x0C98);
    CHECK(decode_max6675(static_cast<std::uint16_t>(read_word(board, 0, 2)), Instant{}).celsius() == 100.75);
}

TEST_CASE("a chip is given back even when a pin fails in the middle") {
    struct Broken final : InPin {
        bool get() override { throw std::system_error(EIO, std::system_category(), "line"); }
    } broken;
    Board board;
    board.talkers = {Talker{}};
    Board::Select select(&board, 0);
    std::array<std::uint8_t, 4> const nothing{};
    CHECK_THROWS_AS(exchange_bits({board.clock_pin, broken, nullptr, select}, SpiMode::mode0, nothing),
                    std::system_error);
    CHECK_FALSE(board.talkers[0].chosen);
}

TEST_CASE("a MAX31856 is set up and read through its registers") {
    Board board;
    board.registers.emplace();
    Board::Select select(&board, -1);
    auto const exchange = [&](std::span<std::uint8_t const> out) {
        return exchange_bits({board.clock_pin, board.data_pin, &board.mosi_pin, select}, SpiMode::mode1, out);
    };
    std::array<std::uint8_t, 17> const ask{};
    auto const setup = max31856_setup(ThermocoupleType::T, false, 16);
    CHECK(setup.control0 == 0x91);  // converts by itself, open test every 16, 50 Hz
    CHECK(setup.control1 == 0x47);  // 16 samples, type T
    CHECK(max31856_setup(ThermocoupleType::B, true, 1).control0 == 0x90);
    CHECK(max31856_setup(ThermocoupleType::B, true, 1).control1 == 0x00);
    CHECK(max31856_setup(ThermocoupleType::K, true, 4).control1 == 0x23);
    auto registers = exchange(ask);
    CHECK(registers[2] == 0x03);  // as it comes from power
    CHECK_FALSE(max31856_is_set_up(std::span(registers).subspan(1), setup));
    bool filter_changed_while_off = true;
    for (auto const& write : max31856_writes(setup)) {
        bool const was_on = (board.registers->bytes[0] & 0x80) != 0;
        auto const before = board.registers->bytes[0] & 1;
        (void)exchange(write);
        if ((board.registers->bytes[0] & 1) != before)
            filter_changed_while_off = !was_on && !(board.registers->bytes[0] & 0x80);
    }
    CHECK(filter_changed_while_off);
    // 1000.0 degC with its own end at 25.0: the datasheet's words 3E8000 and 1900.
    std::uint8_t const values[] = {0x19, 0x00, 0x3E, 0x80, 0x00, 0x00};
    std::copy(std::begin(values), std::end(values), board.registers->bytes.begin() + 10);
    registers = exchange(ask);
    CHECK(max31856_is_set_up(std::span(registers).subspan(1), setup));
    auto const reading = decode_max31856(std::span<std::uint8_t const>(registers).subspan(1), Instant{});
    REQUIRE(reading.ok());
    CHECK(reading.celsius() == 1000.0);
    CHECK(reading.cold_junction == 25.0);
    board.registers->bytes[1] = 0x03;  // a spike resets the type
    registers = exchange(ask);
    CHECK_FALSE(max31856_is_set_up(std::span(registers).subspan(1), setup));
    std::array<std::uint8_t, 16> zeros{}, ones;
    ones.fill(0xFF);
    CHECK(max31856_silent(zeros));
    CHECK(max31856_silent(ones));
    CHECK_FALSE(max31856_silent(std::span(registers).subspan(1)));
}

TEST_CASE("a MAX31856 in one-shot mode is asked, waited for and then believed") {
    Board board;
    board.registers.emplace();
    Board::Select select(&board, -1);
    auto& bytes = board.registers->bytes;
    auto setup = max31856_setup(ThermocoupleType::K, true, 1, true);
    CHECK(setup.control0 == 0x10);  // at rest, open test, 60 Hz
    CHECK(max31856_ask(setup) == std::array<std::uint8_t, 2>{0x80, 0x50});
    CHECK(setup.first_conversion >= Span(155));  // the data sheet's longest at 60 Hz
    setup.first_conversion = Span(30);           // this chip is quicker
    Max31856Device device(
        [&](std::size_t,
            std::span<std::uint8_t const> out) -> std::variant<std::vector<std::uint8_t>, Fault> {
            return exchange_bits({board.clock_pin, board.data_pin, &board.mosi_pin, select}, SpiMode::mode1,
                                 out);
        },
        {setup});
    std::uint8_t const values[] = {0x19, 0x00, 0x06, 0x4F, 0x00, 0x00};  // 100.9375 degC, own end 25.0
    std::copy(std::begin(values), std::end(values), bytes.begin() + 10);

    auto polled = device.read(0);  // fresh from power: type and filter are another's
    REQUIRE(polled.reading);
    CHECK(polled.reading->fault().kind == FaultKind::power_on_value);
    CHECK_FALSE(polled.again);  // a chip that never takes its settings is not to be asked without a pause
    CHECK(board.registers->asked == 0);

    polled = device.read(0);
    CHECK(board.registers->asked == 1);
    CHECK_FALSE(polled.reading);  // what is in the registers was not asked for
    CHECK(polled.again == Span(30));
    polled = device.read(0);  // too soon
    CHECK_FALSE(polled.reading);
    REQUIRE(polled.again);
    std::this_thread::sleep_for(*polled.again);
    polled = device.read(0);  // still at it
    CHECK_FALSE(polled.reading);
    CHECK(polled.again);
    bytes[0] &= 0xBF;  // done: the chip clears the bit
    polled = device.read(0);
    REQUIRE(polled.reading);
    REQUIRE(polled.reading->ok());
    CHECK(polled.reading->celsius() == 100.9375);
    CHECK_FALSE(polled.again);
    (void)device.read(0);
    CHECK(board.registers->asked == 2);  // each turn asks anew

    // A chip that never comes to an end is no reading, and is asked again.
    std::this_thread::sleep_for(std::chrono::milliseconds(70));
    polled = device.read(0);
    REQUIRE(polled.reading);
    CHECK(polled.reading->fault().kind == FaultKind::no_reply);
    (void)device.read(0);
    CHECK(board.registers->asked == 3);
    // A spike that resets the type is seen before the next value.
    bytes[1] = 0x07;
    polled = device.read(0);
    REQUIRE(polled.reading);
    CHECK(polled.reading->fault().kind == FaultKind::power_on_value);
    CHECK(bytes[1] == 0x03);
}

TEST_CASE("a MAX31856 whose data input is not wired is named as that, in both modes") {
    for (bool const one_shot : {false, true}) {
        Board board;
        board.registers.emplace();
        Board::Select select(&board, -1);
        Max31856Device device(
            [&](std::size_t,
                std::span<std::uint8_t const> out) -> std::variant<std::vector<std::uint8_t>, Fault> {
                std::vector<std::uint8_t> const low(out.size());  // what the chip gets
                return exchange_bits({board.clock_pin, board.data_pin, &board.mosi_pin, select},
                                     SpiMode::mode1, low);
            },
            {max31856_setup(ThermocoupleType::T, false, 1, one_shot)});
        CHECK(device.read(0).reading->fault().kind == FaultKind::power_on_value);
        for (int turn = 0; turn < 3; ++turn) {
            auto const polled = device.read(0);
            REQUIRE(polled.reading);
            CHECK_FALSE(polled.again);
            CHECK_THAT(polled.reading->fault().reason, INGLE_CONTAINS("mosi"));
        }
    }
}

TEST_CASE("chips of different kinds hang on one clock: their frames do not mix") {
    // A MAX31855 (4 bytes, mode 0) and a MAX31856 (registers, mode 1), in turn as two drivers' threads read.
    Board board;
    board.talkers = {Talker{0x01901900}};
    board.registers.emplace();
    auto const setup = max31856_setup(ThermocoupleType::K, false, 1);
    Board::Select registers(&board, -1);
    auto const exchange = [&](std::span<std::uint8_t const> out) {
        return exchange_bits({board.clock_pin, board.data_pin, &board.mosi_pin, registers}, SpiMode::mode1,
                             out);
    };
    for (auto const& write : max31856_writes(setup)) {
        (void)exchange(write);
        CHECK(read_word(board, 0, 4) == 0x01901900);
    }
    std::array<std::uint8_t, 17> const ask{};
    auto const bytes = exchange(ask);
    CHECK(max31856_is_set_up(std::span(bytes).subspan(1), setup));
    CHECK(board.contentions == 0);

    // Two drivers on the same lines are one bus to the kernel: it would refuse the second its clock.
    auto const commons = std::make_shared<Commons>();
    auto const one = commons->find_or_make<std::string>("spi lines a");
    CHECK(commons->find_or_make<std::string>("spi lines a") == one);
    CHECK(commons->find_or_make<std::string>("spi lines b") != one);
}

TEST_CASE("contacts that bounce are one change, and a button that is down at the start was not pressed") {
    auto const told = [](Contacts& contacts, std::string_view looks) {  // 1: closed
        std::string out;
        for (char const look : looks) {
            auto const changed = contacts.look(look == '1');
            out += changed ? (*changed ? 'c' : 'o') : '.';
        }
        return out;
    };
    Contacts door(false);
    CHECK(told(door, "0000") == "..o.");  // how it stands at the start is told
    CHECK(told(door, "10100100") == "........");
    CHECK(told(door, "1011111") == "....c..");
    CHECK(told(door, "1101111000") == ".........o");
    Contacts held(true);
    CHECK(told(held, "11111111") == "........");
    CHECK(told(held, "0001110") == "..o..c.");
}

TEST_CASE("a GPIO chip or spidev that is not there is a fault in words, and wiring is checked at once") {
    DriverBench bench;
    Options lines;
    for (auto const* key : {"clock", "data", "select"}) lines.set(key, std::int64_t{3});
    lines.set("chip", std::string("no-such-chip"));
    lines.set("type", std::string("K"));
    Options kernel;
    kernel.set("spi", std::string("/dev/spidev-nowhere"));
    kernel.set("type", std::string("K"));
    std::vector<std::shared_ptr<Driver>> drivers;
    drivers.push_back(max31855_driver.make(
        bench.context(), {DriverBench::probe(0, lines, Span(50)), DriverBench::probe(1, lines, Span(50))}));
    drivers.push_back(max6675_driver.make(bench.context(), {DriverBench::probe(2, kernel, Span(50))}));
    drivers.push_back(max31856_driver.make(bench.context(), {DriverBench::probe(3, kernel, Span(50))}));
    Options door;
    door.set("chip", std::string("no-such-chip"));
    door.set("line", std::int64_t{5});
    drivers.push_back(gpio_switch_driver.make(bench.context(), {DriverBench::probe(4, door)}));
    for (auto const& driver : drivers) driver->start();
    REQUIRE(bench.run_until([&] { return bench.readings.size() == 4 && !bench.events.empty(); }));
    for (int probe = 0; probe < 4; ++probe) {
        REQUIRE(bench.last_fault(probe));
        CHECK(bench.last_fault(probe)->kind == FaultKind::absent);
    }
    CHECK_THAT(bench.last_fault(0)->reason, INGLE_CONTAINS("no-such-chip"));
    CHECK_THAT(bench.last_fault(2)->reason, INGLE_CONTAINS("/dev/spidev-nowhere"));
    CHECK(bench.had_event("switch-lost"));
    for (auto const& driver : drivers) driver->stop();
    CHECK_THROWS_WITH(max31856_driver.make(bench.context(), {DriverBench::probe(0, lines)}),
                      INGLE_CONTAINS("mosi"));
    lines.set("spi", std::string("/dev/spidev0.0"));
    CHECK_THROWS_WITH(max31855_driver.make(bench.context(), {DriverBench::probe(0, lines)}),
                      INGLE_CONTAINS("not both"));
}
