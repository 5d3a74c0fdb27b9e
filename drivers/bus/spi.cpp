#include "drivers/bus/spi.hpp"

#include <fcntl.h>
#include <linux/spi/spidev.h>
#include <sys/ioctl.h>
#include <unistd.h>

#include <cerrno>
#include <mutex>
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

// One clock and data line, and the selects of all chips on it. Chips are added before the first exchange; the
// threads of several devices exchange in turn.
class SpiLines {
public:
    // Throws std::runtime_error if it names another mosi line than the chips before it.
    std::size_t add(SpiWiring const& chip) {
        std::lock_guard const lock(mutex_);
        for (auto const& other : chips_)
            if (!chip.mosi.empty() && !other.mosi.empty() && chip.mosi != other.mosi)
                throw std::runtime_error("chips on one clock line share their mosi line too; here are \"" +
                                         other.mosi + "\" and \"" + chip.mosi + "\"");
        chips_.push_back(chip);
        return chips_.size() - 1;
    }

    SpiBus::Bytes exchange(std::size_t place, SpiMode mode, std::span<std::uint8_t const> out) {
        std::lock_guard const lock(mutex_);
        if (held_ && !held_->selects[place]) held_.reset();
        if (!held_) open();
        if (!held_->selects[place]) throw *held_->trouble[place];
        try {
            auto* const mosi = held_->mosi ? &*held_->mosi : nullptr;
            return exchange_bits({held_->clock, held_->data, mosi, *held_->selects[place]}, mode, out);
        } catch (std::system_error const&) {
            held_.reset();
            throw;
        }
    }

private:
    struct Held {
        Held(std::string const& chip, SpiWiring const& first)
            : clock({chip, first.clock}, false), data({chip, first.data}, false, Bias::as_is) {}
        OutputLine clock;
        InputLine data;
        std::optional<OutputLine> mosi;
        std::vector<std::unique_ptr<OutputLine>> selects;       // null: that one cannot be had
        std::vector<std::optional<std::system_error>> trouble;  // why
    };

    // Every select is taken, and so put at rest, before any chip is chosen: two that talk at once are one
    // wrong number.
    void open() {
        auto held = std::make_unique<Held>(chips_.front().chip, chips_.front());
        for (auto const& each : chips_) {
            if (!each.mosi.empty() && !held->mosi)
                held->mosi.emplace(LineAddress{each.chip, each.mosi}, false);
            std::unique_ptr<OutputLine> select;
            std::optional<std::system_error> trouble;
            try {
                select = std::make_unique<OutputLine>(LineAddress{each.chip, each.select}, true);
            } catch (std::system_error const& error) {
                trouble = error;
            }
            held->selects.push_back(std::move(select));
            held->trouble.push_back(std::move(trouble));
        }
        held_ = std::move(held);
    }

    std::mutex mutex_;
    std::vector<SpiWiring> chips_;
    std::unique_ptr<Held> held_;
};

SpiBus::SpiBus(std::vector<SpiWiring> wiring, SpiMode mode, std::shared_ptr<Commons> const& commons)
    : wiring_(std::move(wiring)), mode_(mode) {
    auto const& first = wiring_.front();
    if (!first.spi.empty()) return;
    auto const name = "spi lines\n" + first.chip + "\n" + first.clock + "\n" + first.data;
    lines_ = commons ? commons->find_or_make<SpiLines>(name) : std::make_shared<SpiLines>();
    for (auto const& each : wiring_) places_.push_back(lines_->add(each));
}

std::variant<SpiBus::Bytes, Fault> SpiBus::exchange(std::size_t chip, std::span<std::uint8_t const> out) {
    try {
        if (lines_) return lines_->exchange(places_[chip], mode_, out);
        return through_kernel(chip, out);
    } catch (std::system_error const& error) {
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
