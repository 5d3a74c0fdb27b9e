#include "drivers/modbus/line.hpp"

#include <fcntl.h>
#include <modbus.h>
#include <poll.h>
#include <sys/file.h>
#include <sys/ioctl.h>
#include <termios.h>
#include <unistd.h>

#include <algorithm>
#include <cerrno>
#include <chrono>
#include <system_error>
#include <thread>

#include "drivers/bus/sysfs.hpp"
#include "drivers/bus/tty_names.hpp"

namespace ingle {

using Clock = std::chrono::steady_clock;

struct ModbusLine::Context {
    modbus_t* handle = nullptr;
    ~Context() {
        if (!handle) return;
        modbus_close(handle);
        modbus_free(handle);
    }
};

ModbusLine::ModbusLine(ModbusPlace place) : place_(std::move(place)) {}
ModbusLine::~ModbusLine() = default;

void ModbusLine::close() {
    context_.reset();
    in_step_.clear();
}

bool ModbusLine::open(Fault& why) {
    auto fresh = std::make_unique<Context>();
    bool const serial = !place_.port.empty();
    if (serial) {
        if (auto doubt = ambiguous_name(place_.port); !doubt.empty()) {
            why = {FaultKind::refused, std::move(doubt)};
            return false;
        }
        fresh->handle =
            modbus_new_rtu(place_.port.c_str(), place_.baud, place_.parity, 8, place_.parity == 'N' ? 2 : 1);
    } else {
        fresh->handle = modbus_new_tcp_pi(place_.host.c_str(), place_.service.c_str());
    }
    auto const name = serial ? place_.port : place_.host + ":" + place_.service;
    if (!fresh->handle) {
        why = {FaultKind::refused, name + ": " + modbus_strerror(errno)};
        return false;
    }
    // A USB adapter may pause for 16 ms within an answer; libmodbus' own half a second would do, but adds up.
    modbus_set_byte_timeout(fresh->handle, 0, 100'000);
    modbus_set_error_recovery(fresh->handle, MODBUS_ERROR_RECOVERY_NONE);
    if (modbus_connect(fresh->handle) != 0) {
        why = file_fault(name, errno);
        if (errno == EACCES && serial)
            why.reason += ": it belongs to " + group_of_file_and_process(place_.port);
        return false;
    }
    int const fd = modbus_get_socket(fresh->handle);
    if (serial && (::flock(fd, LOCK_EX | LOCK_NB) != 0 || ::ioctl(fd, TIOCEXCL) != 0)) {
        why = {FaultKind::refused, name + ": another program holds this port"};
        return false;
    }
    context_ = std::move(fresh);
    return true;
}

// After a broken answer the rest of it goes by.
void ModbusLine::rest() const {
    auto const end = Clock::now() + std::chrono::milliseconds(rest_ms);
    while (Clock::now() < end) {
        std::this_thread::sleep_for(std::chrono::milliseconds(rest_ms / 2));
        modbus_flush(context_->handle);
    }
}

bool ModbusLine::quiet_for(int length_ms) {
    auto const end = Clock::now() + std::chrono::milliseconds(length_ms);
    for (;;) {
        auto const left = std::chrono::duration_cast<std::chrono::milliseconds>(end - Clock::now()).count();
        if (left <= 0) return true;
        if (!context_) {
            std::this_thread::sleep_for(std::chrono::milliseconds(left));
            continue;
        }
        pollfd line{modbus_get_socket(context_->handle), POLLIN, 0};
        if (::poll(&line, 1, static_cast<int>(left)) <= 0) continue;
        if (modbus_flush(context_->handle) > 0) {
            for (auto& [unit, since] : in_doubt_) since = Clock::now();
            return false;
        }
        close();  // readable, and nothing to read: the other end has hung up
    }
}

bool ModbusLine::wait_for_quiet(int unit) {
    auto const patience = Clock::now() + std::chrono::milliseconds(2 * longest_answer_ms);
    while (Clock::now() < patience) {
        auto const end = in_doubt_.at(unit) + std::chrono::milliseconds(longest_answer_ms);
        auto const left = std::chrono::duration_cast<std::chrono::milliseconds>(end - Clock::now());
        if (quiet_for(static_cast<int>(left.count()))) return true;
    }
    return false;
}

Fault ModbusLine::fault_of(int error, int unit) const {
    auto const who = "unit " + std::to_string(unit);
    if (error == ETIMEDOUT) return {FaultKind::no_reply, who + " does not answer"};
    if (error == EMBBADCRC)
        return {FaultKind::garbled,
                who + ": the checksum failed: noise, another speed or parity, or an adapter that echoes"};
    if (error == EMBBADSLAVE) return {FaultKind::garbled, who + " was asked, another one answered"};
    if (error == EMBBADDATA || error == EMBMDATA || error == EMBBADEXC || error == MODBUS_ENOBASE)
        return {FaultKind::garbled, who + ": the answer does not belong to the question"};
    if (error > MODBUS_ENOBASE && error < EMBBADCRC) {
        auto const code = error - MODBUS_ENOBASE;
        std::string text =
            who + " refuses: " + modbus_strerror(error) + " (exception " + std::to_string(code) + ")";
        if (error == EMBXILFUN) text += "; try function 3 instead of 4 or the other way round";
        if (error == EMBXILADD) text += "; registers are counted from 0, a manual's 30001 or 40001 is 0";
        return {FaultKind::unspecified, std::move(text)};
    }
    auto const name = place_.port.empty() ? place_.host + ":" + place_.service : place_.port;
    return {place_.port.empty() ? FaultKind::no_reply : FaultKind::absent,
            name + ": the connection is lost (" + std::system_category().message(error) + ")"};
}

int ModbusLine::ask(Question const& question, Registers& registers) {
    auto* const handle = context_->handle;
    auto const [unit, function, first, count] = question;
    registers.assign(static_cast<std::size_t>(count), 0);
    modbus_flush(handle);
    bool const slow = slow_.contains(unit) && !in_doubt_.contains(unit);
    int const wait_ms = slow ? longest_answer_ms : answer_ms;
    modbus_set_response_timeout(handle, static_cast<std::uint32_t>(wait_ms / 1000),
                                static_cast<std::uint32_t>(wait_ms % 1000 * 1000));
    if (modbus_set_slave(handle, unit) != 0) return errno;
    int const got = function == 4 ? modbus_read_input_registers(handle, first, count, registers.data())
                                  : modbus_read_registers(handle, first, count, registers.data());
    return got == count ? 0 : got < 0 ? errno : EMBMDATA;
}

// An RTU answer does not say which question it is for. Two things tell: a question for one register more must
// not get an answer of the length before, also not from a gateway that keeps an answer until it is asked
// again; and the very words of another question's answer may be that one, sent twice, and are asked for once
// more.
int ModbusLine::ask_in_step(Question const& question, Registers& registers) {
    int error = ask(question, registers);
    if (error == 0 && !in_step_.contains(question.unit)) {
        auto longer = question;
        ++longer.count;
        error = ask(longer, registers);
        bool const refused = error > MODBUS_ENOBASE && error < EMBBADCRC;
        // Some units do not answer what they cannot.
        if (error != 0 && !refused && error != ETIMEDOUT) return error;
        in_step_.insert(question.unit);
        error = ask(question, registers);
    }
    if (error == 0 && asked_before_ && *asked_before_ != question && came_before_ == registers) {
        error = ask(question, registers);
        if (error == 0 && came_before_ != registers) error = EMBBADDATA;
    }
    asked_before_.reset();
    if (error != 0) return error;
    asked_before_ = question;
    came_before_ = registers;
    return 0;
}

std::variant<std::vector<std::uint16_t>, Fault> ModbusLine::read(int unit, int function, int first,
                                                                 int count) {
    bool const doubted = in_doubt_.contains(unit);
    if (doubted && !wait_for_quiet(unit))
        return Fault{FaultKind::garbled, "the line does not fall silent: something talks on it unasked"};
    Fault why;
    if (!context_ && !open(why)) return why;
    if (doubted) in_step_.erase(unit);
    Registers registers;
    int const error = ask_in_step({unit, function, first, count}, registers);
    bool const refused = error > MODBUS_ENOBASE && error < EMBBADCRC;
    if (error == 0 || refused) {
        // The first answer after a time-out may be the one that was missed then: its own would follow.
        if (doubted && !quiet_for(longest_answer_ms))
            return Fault{FaultKind::no_reply, "unit " + std::to_string(unit) +
                                                  " answers too late: its answers cannot be told apart"};
        if (doubted) slow_.insert(unit);
        in_doubt_.erase(unit);
        if (error == 0) return registers;
        return fault_of(error, unit);
    }
    why = fault_of(error, unit);
    bool const talking = error >= MODBUS_ENOBASE || error == ETIMEDOUT;
    bool const not_its_answer = error == EMBBADSLAVE || error == EMBBADDATA || error == EMBMDATA;
    if (doubted || error == ETIMEDOUT || not_its_answer) in_doubt_[unit] = Clock::now();
    if (!talking || place_.port.empty())
        close();  // and with it a TCP connection's late answers, but not those of a gateway's line
    else if (error != ETIMEDOUT)
        rest();
    return why;
}

}  // namespace ingle
