// One Modbus line, RTU on a serial port or TCP: asks one unit at a time and takes only its answer. Blocks for
// at most the time-outs below; device threads only.
#pragma once

#include <cstdint>
#include <memory>
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
    static constexpr int late_answer_ms =
        1000;  // after a time-out the line is left alone this long, and emptied

    static constexpr int rest_ms = 100;  // after a broken answer: until the rest of it has gone by

    explicit ModbusLine(ModbusPlace place);
    ~ModbusLine();
    // `function`: 3 holding, 4 input registers; `first` counts from 0. Opens and re-opens by itself.
    std::variant<std::vector<std::uint16_t>, Fault> read(int unit, int function, int first, int count);

private:
    struct Context;
    bool open(Fault& why);
    void close();
    void leave_alone(int length_ms);
    Fault fault_of(int error, int unit) const;
    ModbusPlace place_;
    std::unique_ptr<Context> context_;
};

}  // namespace ingle
