// The program's own drivers and lines on the rig's kernel, one command a line from standard input, one JSON
// answer a line. The checks are in the scripts beside it; here nothing is judged. A test tool; commands run
// one by one.
#include <fcntl.h>
#include <linux/gpio.h>
#include <sys/ioctl.h>
#include <unistd.h>

#include <algorithm>
#include <charconv>
#include <iostream>
#include <map>
#include <nlohmann/json.hpp>
#include <sstream>
#include <system_error>

#include "drivers/api/driver.hpp"
#include "drivers/api/registry.hpp"
#include "drivers/bus/spi.hpp"
#include "tests/rig/wrong_pins.hpp"

namespace ingle::rig {
namespace {

using Json = nlohmann::json;
using Words = std::vector<std::string>;
constexpr char chip_label[] = "ingle-rig";

std::vector<std::string> split(std::string const& text, char at) {
    std::vector<std::string> parts;
    std::istringstream in(text);
    for (std::string part; std::getline(in, part, at);) parts.push_back(part);
    return parts;
}

// What a driver says, until every probe has said `count` things.
class Listening final : public ReadingSink {
public:
    Listening(boost::asio::io_context& io, std::size_t probes, std::size_t count)
        : io_(io), count_(count), said_(probes), events_(Json::array()) {}

    void on_reading(int probe, Reading reading) override {
        Json one;
        if (reading.ok())
            one["celsius"] = reading.celsius();
        else
            one = {{"fault", to_word(reading.fault().kind)}, {"reason", reading.fault().reason}};
        if (reading.cold_junction) one["cold"] = *reading.cold_junction;
        if (reading.word) one["word"] = *reading.word;
        add(probe, std::move(one));
    }
    void on_driver_event(int, std::string_view event, std::string text) override {
        events_.push_back(std::string(event) + ": " + text);
    }
    void on_switch(int probe, Instant, bool closed) override { add(probe, {{"closed", closed}}); }

    Json answer() const { return {{"probes", said_}, {"events", events_}}; }

private:
    void add(int probe, Json one) {
        auto& own = said_[static_cast<std::size_t>(probe)];
        if (own.size() < count_) own.push_back(std::move(one));
        if (std::ranges::all_of(said_, [&](auto const& each) { return each.size() >= count_; })) io_.stop();
    }
    boost::asio::io_context& io_;
    std::size_t count_;
    std::vector<std::vector<Json>> said_;
    Json events_;
};

DriverInfo const& driver_called(std::string const& name) {
    for (auto const* each : drivers())
        if (each->name == name) return *each;
    throw std::runtime_error("no driver " + name);
}

Options options_of(DriverInfo const& info, std::string const& text) {
    Options options;
    for (auto const& pair : split(text, ',')) {
        auto const at = pair.find('=');
        auto const key = pair.substr(0, at), value = pair.substr(at + 1);
        auto const known = std::ranges::find(info.options, key, &OptionInfo::name);
        if (known != info.options.end() && known->kind == OptionKind::integer)
            options.set(key, static_cast<std::int64_t>(std::stoll(value)));
        else
            options.set(key, value);
    }
    if (auto const wrong = problems(info.options, options); !wrong.empty())
        throw std::runtime_error(wrong.front().key + " " + wrong.front().wrong);
    return options;
}

// read DRIVER COUNT LIMIT_MS EVERY_MS OPTIONS...: one word of options for each probe.
Json read(Words const& words) {
    auto const& info = driver_called(words.at(1));
    std::vector<ProbeWiring> wiring;
    for (std::size_t i = 5; i < words.size(); ++i)
        wiring.push_back({static_cast<int>(i - 5), "probe" + std::to_string(i - 5),
                          Span(std::stol(words.at(4))), options_of(info, words[i])});
    boost::asio::io_context io;
    Listening sink(io, wiring.size(), std::stoul(words.at(2)));
    Json log = Json::array();
    auto const driver =
        info.make({io, sink, [&log](Severity, std::string text) { log.push_back(std::move(text)); }},
                  std::move(wiring));
    driver->start();
    io.run_for(std::chrono::milliseconds(std::stol(words.at(3))));
    driver->stop();
    auto answer = sink.answer();
    answer["log"] = log;
    return answer;
}

OutputLine select_line(std::string const& number) {
    return OutputLine({chip_label, "RIG_CS" + number}, true);
}

// bits MISTAKE SELECT BYTES [SENT]: one exchange in mode 0 with a mistake or "none"; "both" chooses SELECT
// and the next. SENT is hexadecimal.
Json bits(Words const& words) {
    auto const mistake = words.at(1);
    auto const number = words.at(2);
    std::vector<std::uint8_t> out(std::stoul(words.at(3)));
    OutputLine clock({chip_label, "RIG_SCK"}, false);
    InputLine data({chip_label, "RIG_SO"}, false, Bias::as_is);
    auto select = select_line(number);
    int const pulses = static_cast<int>(out.size()) * 8;
    SpiPins pins{clock, data, nullptr, select};
    auto const mode = SpiMode::mode0;
    auto const done = [&](SpiPins with) {
        Json answer = Json::array();
        for (auto const byte : exchange_bits(with, mode, out)) answer.push_back(byte);
        return answer;
    };
    if (mistake == "none") return done(pins);
    if (mistake == "late") {
        LateData late(clock, data);
        return done({clock, late, nullptr, select});
    }
    if (mistake == "one-clock-less" || mistake == "one-clock-more") {
        MiscountedClock wrong(clock, mistake.ends_with("less") ? pulses : 0,
                              mistake.ends_with("more") ? pulses : 0);
        return done({wrong, data, nullptr, select});
    }
    if (mistake == "clock-rests-high") {
        UpsideDown wrong(clock);
        return done({wrong, data, nullptr, select});
    }
    if (mistake == "never-chosen") {
        NeverSet wrong;
        return done({clock, data, nullptr, wrong});
    }
    if (mistake == "never-released") {
        Sticky wrong(select);
        done({clock, data, nullptr, wrong});
        return done({clock, data, nullptr, wrong});
    }
    if (mistake == "both-chosen") {
        auto other = select_line(std::to_string(std::stoi(number) + 1));
        Two wrong(select, other);
        return done({clock, data, nullptr, wrong});
    }
    if (mistake == "lowest-bit-first") {
        auto answer = done(pins);
        for (auto& byte : answer) {
            unsigned turned = 0;
            for (unsigned bit = 0; bit < 8; ++bit)
                turned |= ((byte.get<unsigned>() >> bit) & 1U) << (7 - bit);
            byte = turned;
        }
        return answer;
    }
    throw std::runtime_error("no mistake " + mistake);
}

// bench SELECT MS: 32-bit frames by bit-banging, as many as there is time for.
Json bench(Words const& words) {
    OutputLine clock({chip_label, "RIG_SCK"}, false);
    InputLine data({chip_label, "RIG_SO"}, false, Bias::as_is);
    auto select = select_line(words.at(1));
    std::uint8_t const nothing[4]{};
    auto const began = std::chrono::steady_clock::now();
    auto const length = std::chrono::milliseconds(std::stol(words.at(2)));
    int frames = 0;
    for (; std::chrono::steady_clock::now() - began < length; ++frames)
        exchange_bits({clock, data, nullptr, select}, SpiMode::mode0, nothing);
    std::chrono::duration<double> const took = std::chrono::steady_clock::now() - began;
    return {{"frames", frames}, {"per_second", frames / took.count()}};
}

// hold CHIP_PATH LINE CONSUMER: another program that sits on a line, until this one ends. Straight from the
// kernel's interface, so that nothing of the program under test is in it.
Json hold(Words const& words) {
    int const chip = ::open(words.at(1).c_str(), O_RDWR | O_CLOEXEC);
    if (chip < 0) throw std::system_error(errno, std::system_category(), words.at(1));
    gpio_v2_line_request request{};
    request.offsets[0] = static_cast<std::uint32_t>(std::stoul(words.at(2)));
    request.num_lines = 1;
    request.config.flags = GPIO_V2_LINE_FLAG_INPUT;
    words.at(3).copy(request.consumer, sizeof request.consumer - 1);
    int const failed = ::ioctl(chip, GPIO_V2_GET_LINE_IOCTL, &request) < 0 ? errno : 0;
    ::close(chip);
    if (failed) throw std::system_error(failed, std::system_category(), "request");
    return {{"held", true}};
}

Json answer_to(Words const& words) {
    std::map<std::string, Json (*)(Words const&)> const commands{
        {"read", read}, {"bits", bits}, {"bench", bench}, {"hold", hold}, {"ready", [](Words const&) {
                                                                               return Json{{"ready", true}};
                                                                           }}};
    return commands.at(words.at(0))(words);
}

}  // namespace
}  // namespace ingle::rig

int main() {
    for (std::string line; std::getline(std::cin, line);) {
        nlohmann::json answer;
        try {
            answer = ingle::rig::answer_to(ingle::rig::split(line, ' '));
        } catch (std::exception const& error) {
            answer = {{"error", error.what()}};
        }
        std::cout << answer.dump() << std::endl;
    }
}
