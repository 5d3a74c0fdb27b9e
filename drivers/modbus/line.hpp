// One Modbus line, RTU on a serial port or TCP: asks one unit at a time and takes only its answer, of which
// an RTU answer says nothing but the unit. Blocks for at most the time-outs below; device threads only.
#pragma once

#include <chrono>
#include <cstdint>
#include <map>
#include <memory>
#include <optional>
#include <set>
#include <string>
#include <variant>
#include <vector>

#include "drivers/reading/fault.hpp"

namespace ingle {

struct ModbusPlace {
    std::string port;  // RTU: path of the serial port, or
    int baud = 9600;
    char parity = 'N';  // N, E, O
    std::string host;   // TCP: name or address
    std::string service = "502";
};

class ModbusLine {
public:
    static constexpr int answer_ms = 500;  // longest seen of slow transmitters is some 300 ms
    // No answer takes longer than this, a busy gateway's included. After a time-out the line must be quiet
    // for as long, or the answer to one question is taken for that to the next, and to every later one.
    static constexpr int longest_answer_ms = 2000;
    // The longest that one read may block: waiting for quiet, the answer, and quiet after it.
    static constexpr int longest_read_ms = 3 * longest_answer_ms + 2 * answer_ms;

    static constexpr int rest_ms = 100;  // after a broken answer: until the rest of it has gone by

    explicit ModbusLine(ModbusPlace place);
    ~ModbusLine();
    // `function`: 3 holding, 4 input registers; `first` counts from 0. Opens and re-opens by itself.
    std::variant<std::vector<std::uint16_t>, Fault> read(int unit, int function, int first, int count);

private:
    struct Context;
    struct Question {
        int unit, function, first, count;
        auto operator<=>(Question const&) const = default;
    };
    using Registers = std::vector<std::uint16_t>;
    bool open(Fault& why);
    int ask(Question const& question, Registers& registers);  // 0 or an errno of libmodbus
    int ask_in_step(Question const& question, Registers& registers);
    void close();
    void rest() const;
    bool wait_for_quiet(int unit);  // false: something talks on without being asked
    bool quiet_for(int length_ms);  // false: something came; it is thrown away
    Fault fault_of(int error, int unit) const;
    ModbusPlace place_;
    std::unique_ptr<Context> context_;
    // Units that did not answer a question in time, and when it was given up or something came late: what
    // they say next may still be that answer. An answer says which unit it is from, so the others go on.
    std::map<int, std::chrono::steady_clock::time_point> in_doubt_;
    // Units that missed an answer and then answered in time again: the next late one is waited for, so that
    // it comes before another question is asked.
    std::set<int> slow_;
    std::set<int> in_step_;  // units that answered the newest question since the line was opened or in doubt
    std::optional<Question> asked_before_;  // with success, and what came
    Registers came_before_;
};

}  // namespace ingle
