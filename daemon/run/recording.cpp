#include "daemon/run/recording.hpp"

#include <algorithm>
#include <utility>
#include <vector>

#include "config/device.hpp"
#include "config/secrets.hpp"

namespace ingle {
namespace {

constexpr double longest_days = 36'500;

template <class T>
std::vector<std::string> names(std::vector<T> const& list) {
    std::vector<std::string> result;
    for (auto const& item : list) result.push_back(item.name);
    return result;
}

}  // namespace

logbook::WriterOptions recording_of(Settings const& kitchen, std::string const& text) {
    logbook::WriterOptions options;
    for (auto const& probe : kitchen.probes)
        options.probes.push_back({probe.name, probe.driver, device_of(probe), probe.calibration});
    options.vessels = names(kitchen.vessels);
    options.dishes = names(kitchen.dishes);
    options.settings = without_secrets(text);
    options.zone = kitchen.zone;
    if (auto const& keep = kitchen.keep_readings)
        options.keep_days = static_cast<int>(std::min(keep->seconds / 86'400, longest_days));
    return options;
}

logbook::Resumed handed_over(Memory state, Instant now) {
    logbook::Resumed handed;
    handed.known = true;
    handed.memory = std::move(state);
    handed.memory_boot.this_one = handed.off_boot.this_one = true;
    handed.off_at = handed.started = now;
    return handed;
}

std::string not_recorded(logbook::Writer const& writer, bool past_known, Instant now) {
    auto const trouble = writer.trouble();
    auto const counts = writer.counts();
    if (!trouble && (!past_known || (!counts.last_commit && counts.waiting > 0)))
        return "stopped before the logbook opened: " + std::to_string(counts.waiting) +
               " readings, and what was done meanwhile, are lost";
    if (!trouble) return {};
    return "stopped without having recorded the last " +
           std::to_string((now - trouble->since).count() / 1000) +
           " s: " + std::to_string(writer.counts().waiting) +
           " readings, and what was done meanwhile, are lost (" + trouble->text + ")";
}

}  // namespace ingle
