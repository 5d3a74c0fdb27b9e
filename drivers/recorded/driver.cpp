// Plays a recording (drivers/reading/recording.hpp) as if it happened now. A row is due its time divided by
// `speed` after the start and is stamped with that moment; the probe's own `every` plays no part. At the end:
// silence.
#include <algorithm>
#include <cerrno>
#include <filesystem>
#include <fstream>
#include <memory>
#include <optional>
#include <stdexcept>
#include <system_error>

#include "drivers/api/driver.hpp"
#include "drivers/reading/recording.hpp"

namespace ingle {
namespace {

constexpr OptionInfo options[] = {
    {"file", OptionKind::file, true, "", {}, 0, 0, "path of the recording, a CSV file"},
    {"column", OptionKind::text, false, "", {}, 0, 0, "name of the column; without it the probe's name"},
    {"speed", OptionKind::number, false, "1", {}, 0.01, 100'000, "seconds of the recording in a second"},
};
constexpr std::string_view shared[] = {"file", "speed"};

// Rows played in one go before other work gets its turn: a fast replay must not hold the thread.
constexpr int rows_at_once = 256;

Recording load(std::string const& path) {
    if (auto const why = no_recording(path); !why.empty())
        throw WrongOption("file", "cannot read the recording " + path + ": " + why,
                          "name a CSV file of at most " + std::to_string(longest_recording >> 20) + " MiB");
    errno = 0;
    std::ifstream file(path, std::ios::binary);
    if (!file) {
        auto const why = errno ? std::generic_category().message(errno) : std::string("cannot be opened");
        throw WrongOption("file", "cannot read the recording " + path + ": " + why, "name a CSV file");
    }
    std::string text(std::filesystem::file_size(path), '\0');
    file.read(text.data(), static_cast<std::streamsize>(text.size()));
    text.resize(static_cast<std::size_t>(file.gcount()));
    if (file.bad()) throw WrongOption("file", "cannot read the recording " + path, "name a CSV file");
    auto parsed = parse_recording(text);
    if (!parsed.errors.empty())
        throw WrongOption("file", parsed.errors.front().text(path), "mend it, or name another");
    return std::move(parsed.recording);
}

class Recorded final : public Driver {
public:
    Recorded(DriverContext context, std::vector<ProbeWiring> const& probes)
        : context_(std::move(context)),
          timer_(context_.io),
          path_(probes.at(0).options.text("file")),
          speed_(probes.at(0).options.number("speed", 1)),
          recording_(load(path_)) {
        for (auto const& probe : probes) {
            auto const name = probe.options.text("column", probe.name);
            int const column = recording_.column(name);
            if (column < 0) throw WrongOption("column", no_column(name), "name one of these", probe.number);
            probes_.push_back({probe.number, static_cast<std::size_t>(column)});
        }
    }

    void start() override {
        if (stopping_ || started_) return;
        started_ = BootClock::now();
        play();
    }

    void stop() override {
        stopping_ = true;
        timer_.cancel();
    }

private:
    struct Probe {
        int number;
        std::size_t column;
    };

    std::string no_column(std::string const& name) const {
        std::string text = path_ + " has no column \"" + name + "\"; it has ";
        for (auto const& column : recording_.columns)
            text += (&column == &recording_.columns.front() ? "\"" : ", \"") + column.name + "\"";
        return text;
    }

    Instant due(std::size_t row) const {
        return *started_ + from_seconds(seconds(recording_.times[row] - recording_.times[0]) / speed_);
    }

    void play() {
        auto const now = BootClock::now();
        int played = 0;
        while (!stopping_ && row_ < recording_.rows() && due(row_) <= now && played++ < rows_at_once)
            say(row_++);
        if (stopping_) return;
        if (row_ == recording_.rows()) {
            context_.log(Severity::note, path_ + ": the recording has ended");
            for (auto const& probe : probes_)
                context_.sink.on_driver_event(probe.number, "recording-ended", path_ + " has ended");
            return;
        }
        timer_.expires_after(std::max(due(row_) - now, Span{0}));
        timer_.async_wait([self = shared_from_this(), this](boost::system::error_code error) {
            if (!error && !stopping_) play();
        });
    }

    void say(std::size_t row) {
        auto const at = due(row);
        auto const cells = recording_.row(row);
        for (auto const& probe : probes_)
            if (auto reading = reading_of(cells[probe.column], at))
                context_.sink.on_reading(probe.number, std::move(*reading));
    }

    DriverContext context_;
    boost::asio::steady_timer timer_;
    std::string path_;
    double speed_;
    Recording recording_;
    std::vector<Probe> probes_;
    std::size_t row_ = 0;
    std::optional<Instant> started_;
    bool stopping_ = false;
};

std::shared_ptr<Driver> make(DriverContext context, std::vector<ProbeWiring> probes) {
    return std::make_shared<Recorded>(std::move(context), probes);
}

}  // namespace

extern DriverInfo const recorded_driver;
DriverInfo const recorded_driver{"recorded", "plays a recording (CSV) as if it happened now", options, shared,
                                 make};

}  // namespace ingle
