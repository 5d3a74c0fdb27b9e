// An example to copy with tools/new_driver: reads one number from a text file again and again. This file
// opens, times and reports; decode.cpp understands. Every comment below says what a real driver must think of
// there.
#include <algorithm>
#include <cerrno>
#include <fstream>
#include <iterator>
#include <memory>
#include <string>

#include "drivers/api/driver.hpp"
#include "drivers/skeleton/decode.hpp"

namespace ingle {
namespace {

// 1. What may stand in the kitchen file. `ingle check` finds unknown keys, wrong kinds and ranges from this
// table.
constexpr OptionInfo options[] = {
    {"file", OptionKind::text, true, "", {}, 0, 0, "path of the text file with a number in degC"},
};
// 2. Probes with the same values of these options share one driver object: a port, a bus, a broker.
constexpr std::string_view shared[] = {"file"};

// 3. Every limit is a named constant with its reason.
constexpr Span shortest_period{50};  // a file is cheap to read, but not free

class Skeleton final : public Driver {
public:
    // 4. Throw std::runtime_error only for what can never work. A device that is not there yet is a fault
    // below.
    Skeleton(DriverContext context, std::vector<ProbeWiring> probes)
        : context_(std::move(context)),
          probes_(std::move(probes)),
          timer_(context_.io),
          path_(probes_.at(0).options.text("file")),
          period_(probes_.at(0).every) {
        for (auto const& probe : probes_) period_ = std::min(period_, probe.every);
        period_ = std::max(period_, shortest_period);
    }

    void start() override {
        if (!stopping_) poll();
    }

    // 5. May be called twice, and while an operation waits. Closes and cancels; waits for nothing.
    void stop() override {
        stopping_ = true;
        timer_.cancel();
    }

private:
    void poll() {
        // 6. The stamp is the moment of measuring. A device that may hang is read on a thread of its own,
        // which
        //    posts the result to context_.io: a blocked read here would stop every other probe.
        auto const reading = read(BootClock::now());
        // 7. The sink is called on the io_context thread only, once for each probe, fault or not.
        for (auto const& probe : probes_) {
            if (stopping_) return;
            context_.sink.on_reading(probe.number, reading);
        }
        tell_once(reading);
        timer_.expires_after(period_);
        // 8. A waiting operation keeps its object alive, and looks at the error first.
        timer_.async_wait([self = shared_from_this(), this](boost::system::error_code error) {
            if (!error && !stopping_) poll();
        });
    }

    // 9. No exception leaves a reading, and no fault becomes a number.
    Reading read(Instant at) const {
        errno = 0;
        std::ifstream file(path_);
        if (!file)
            return errno == EACCES ? Reading::faulty(at, FaultKind::refused, "refused: may not read " + path_)
                                   : Reading::faulty(at, FaultKind::absent, "absent: there is no " + path_);
        std::string const text{std::istreambuf_iterator<char>(file), {}};
        auto value = decode_skeleton(text);
        if (auto* fault = std::get_if<Fault>(&value)) return Reading::faulty(at, fault->kind, fault->reason);
        return Reading::good(at, std::get<double>(value));
    }

    // 10. Trouble is logged when it begins and when it ends, not at every reading.
    void tell_once(Reading const& reading) {
        std::string const now = reading.ok() ? std::string() : reading.fault().reason;
        if (now == trouble_) return;
        context_.log(now.empty() ? Severity::note : Severity::trouble,
                     path_ + ": " + (now.empty() ? "readings again" : now));
        trouble_ = now;
    }

    DriverContext context_;
    std::vector<ProbeWiring> probes_;
    boost::asio::steady_timer timer_;
    std::string path_;
    Span period_;
    std::string trouble_;
    bool stopping_ = false;
};

std::shared_ptr<Driver> make(DriverContext context, std::vector<ProbeWiring> probes) {
    return std::make_shared<Skeleton>(std::move(context), std::move(probes));
}

}  // namespace

// 11. The registry finds this by the folder's name, which drivers/drivers.def lists.
extern DriverInfo const skeleton_driver;
DriverInfo const skeleton_driver{"skeleton", "an example to copy: one number in a text file", options, shared,
                                 make};

}  // namespace ingle
