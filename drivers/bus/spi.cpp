#include "drivers/bus/spi.hpp"

#include <fcntl.h>
#include <linux/spi/spidev.h>
#include <sys/ioctl.h>
#include <unistd.h>

#include <cerrno>
#include <optional>
#include <stdexcept>
#include <system_error>

#include "drivers/bus/sysfs.hpp"

namespace ingle {
namespace {

constexpr std::uint32_t spidev_hertz =
    1'000'000;  // every chip here takes four times as much; long wires do not

class Chosen {
public:
    explicit Chosen(OutPin& select) : select_(select) { select_.set(true); }
    ~Chosen() {
        try {
            select_.set(false);
        } catch (...) {  // unplugged
        }
    }
    Chosen(Chosen const&) = delete;

private:
    OutPin& select_;
};

class File {
public:
    explicit File(std::string const& path) : fd_(::open(path.c_str(), O_RDWR | O_CLOEXEC)) {
        if (fd_ < 0) throw std::system_error(errno, std::system_category(), path);
    }
    ~File() { ::close(fd_); }
    File(File const&) = delete;
    template <class T>
    void control(unsigned long request, T* argument, char const* what) {
        if (::ioctl(fd_, request, argument) < 0) throw std::system_error(errno, std::system_category(), what);
    }

private:
    int fd_;
};

Fault fault_of(std::system_error const& error) {
    auto fault = file_fault("", error.code().value());
    fault.reason = error.what();
    return fault;
}

}  // namespace

std::vector<std::uint8_t> exchange_bits(SpiPins pins, SpiMode mode, std::span<std::uint8_t const> out) {
    pins.clock.set(false);
    Chosen const chosen(pins.select);
    std::vector<std::uint8_t> in;
    for (auto const byte : out) {
        unsigned got = 0;
        for (int bit = 7; bit >= 0; --bit) {
            bool const sent = ((byte >> bit) & 1) != 0;
            if (pins.mosi && mode == SpiMode::mode0) pins.mosi->set(sent);
            pins.clock.set(true);
            if (pins.mosi && mode == SpiMode::mode1) pins.mosi->set(sent);
            got = (got << 1) | (pins.data.get() ? 1U : 0U);  // in both modes before the falling edge
            pins.clock.set(false);
        }
        in.push_back(static_cast<std::uint8_t>(got));
    }
    return in;
}

SpiWiring spi_wiring(ProbeWiring const& probe, bool needs_mosi) {
    auto const& own = probe.options;
    SpiWiring wiring{own.text("chip"), own.text("clock"),  own.text("data"),
                     own.text("mosi"), own.text("select"), own.text("spi")};
    auto const who = "probe \"" + probe.name + "\": ";
    bool const any_line = !(wiring.chip + wiring.clock + wiring.data + wiring.mosi + wiring.select).empty();
    if (!wiring.spi.empty()) {
        if (any_line) throw std::runtime_error(who + "give either spi or the lines, not both");
        return wiring;
    }
    bool const complete = !wiring.chip.empty() && !wiring.clock.empty() && !wiring.data.empty() &&
                          !wiring.select.empty() && (!needs_mosi || !wiring.mosi.empty());
    if (!complete)
        throw std::runtime_error(who + "give chip, clock, data and select" +
                                 (needs_mosi ? ", and mosi" : "") + ", or spi with a spidev path");
    return wiring;
}

struct SpiBus::Lines {
    explicit Lines(SpiWiring const& wiring)
        : clock({wiring.chip, wiring.clock}, false), data({wiring.chip, wiring.data}, false, Bias::as_is) {
        if (!wiring.mosi.empty()) mosi.emplace(LineAddress{wiring.chip, wiring.mosi}, false);
    }
    OutputLine clock;
    InputLine data;
    std::optional<OutputLine> mosi;
    std::vector<std::unique_ptr<OutputLine>> selects;       // null: that one cannot be had
    std::vector<std::optional<std::system_error>> trouble;  // why
};

SpiBus::SpiBus(std::vector<SpiWiring> wiring, SpiMode mode) : wiring_(std::move(wiring)), mode_(mode) {}
SpiBus::SpiBus(SpiBus&&) noexcept = default;
SpiBus::~SpiBus() = default;

// Every select is taken, and so put at rest, before any chip is chosen: two that talk at once are one wrong
// number.
void SpiBus::open_lines() {
    auto lines = std::make_unique<Lines>(wiring_.front());
    for (auto const& each : wiring_) {
        std::unique_ptr<OutputLine> select;
        std::optional<std::system_error> trouble;
        try {
            select = std::make_unique<OutputLine>(LineAddress{each.chip, each.select}, true);
        } catch (std::system_error const& error) {
            trouble = error;
        }
        lines->selects.push_back(std::move(select));
        lines->trouble.push_back(std::move(trouble));
    }
    lines_ = std::move(lines);
}

std::variant<SpiBus::Bytes, Fault> SpiBus::exchange(std::size_t chip, std::span<std::uint8_t const> out) {
    try {
        if (!wiring_[chip].spi.empty()) return through_kernel(chip, out);
        if (lines_ && !lines_->selects[chip]) lines_.reset();
        if (!lines_) open_lines();
        if (!lines_->selects[chip]) throw *lines_->trouble[chip];
        auto* const mosi = lines_->mosi ? &*lines_->mosi : nullptr;
        return exchange_bits({lines_->clock, lines_->data, mosi, *lines_->selects[chip]}, mode_, out);
    } catch (std::system_error const& error) {
        bool const own_select_only = lines_ && !lines_->selects[chip];
        if (!own_select_only) lines_.reset();
        return fault_of(error);
    }
}

SpiBus::Bytes SpiBus::through_kernel(std::size_t chip, std::span<std::uint8_t const> out) {
    auto const& path = wiring_[chip].spi;
    File device(path);
    std::uint8_t mode = mode_ == SpiMode::mode0 ? SPI_MODE_0 : SPI_MODE_1;
    std::uint32_t hertz = spidev_hertz;
    device.control(SPI_IOC_WR_MODE, &mode, path.c_str());
    device.control(SPI_IOC_WR_MAX_SPEED_HZ, &hertz, path.c_str());
    Bytes in(out.size());
    spi_ioc_transfer transfer{};
    transfer.tx_buf = reinterpret_cast<std::uintptr_t>(out.data());
    transfer.rx_buf = reinterpret_cast<std::uintptr_t>(in.data());
    transfer.len = static_cast<std::uint32_t>(out.size());
    transfer.bits_per_word = 8;
    device.control(SPI_IOC_MESSAGE(1), &transfer, path.c_str());
    return in;
}

}  // namespace ingle
