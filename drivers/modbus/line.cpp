#include "drivers/modbus/line.hpp"

#include <fcntl.h>
#include <modbus.h>
#include <poll.h>
#include <sys/file.h>
#include <sys/ioctl.h>
#include <termios.h>
#include <unistd.h>

#include <cerrno>
#include <chrono>
#include <system_error>
#include <thread>

#include "drivers/bus/sysfs.hpp"
#include "drivers/bus/tty_names.hpp"

namespace ingle {

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
    modbus_set_response_timeout(fresh->handle, 0, answer_ms * 1000);
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

// What still comes now answers a question that nobody waits for any more.
void ModbusLine::leave_alone(int length_ms) {
    using Clock = std::chrono::steady_clock;
    auto const end = Clock::now() + std::chrono::milliseconds(length_ms);
    while (Clock::now() < end) {
        std::this_thread::sleep_for(std::chrono::milliseconds(50));
        modbus_flush(context_->handle);
    }
}

Fault ModbusLine::fault_of(int error, int unit) const {
    auto const who = "unit " + std::to_string(unit);
    if (error == ETIMEDOUT) return {FaultKind::no_reply, who + " does not answer"};
    if (error == EMBBADCRC)
        return {FaultKind::garbled,
                who + ": the checksum failed: noise, another speed or parity, or an adapter that echoes"};
    if (error == EMBBADSLAVE) return {FaultKind::garbled, who + " was asked, another one answered"};
    if (error == EMBBADDATA || error == EMBMDATA || error == EMBBADEXC)
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

std::variant<std::vector<std::uint16_t>, Fault> ModbusLine::read(int unit, int function, int first,
                                                                 int count) {
    Fault why;
    if (!context_ && !open(why)) return why;
    auto* const handle = context_->handle;
    std::vector<std::uint16_t> registers(static_cast<std::size_t>(count));
    modbus_flush(handle);
    errno = modbus_set_slave(handle, unit) == 0 ? 0 : errno;
    int const got = function == 4 ? modbus_read_input_registers(handle, first, count, registers.data())
                                  : modbus_read_registers(handle, first, count, registers.data());
    if (got == count) return registers;
    int const error = got < 0 ? errno : EMBMDATA;
    why = fault_of(error, unit);
    bool const refused = error > MODBUS_ENOBASE && error < EMBBADCRC;
    bool const talking = error >= MODBUS_ENOBASE || error == ETIMEDOUT;
    if (!talking || (!refused && place_.port.empty()))
        close();  // on TCP a late answer dies with its connection
    else if (!refused)
        leave_alone(error == ETIMEDOUT ? late_answer_ms : rest_ms);
    return why;
}

}  // namespace ingle
