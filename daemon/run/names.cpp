#include "daemon/run/names.hpp"

#include <ctime>

namespace ingle {
namespace {

template <class T>
std::string name_at(std::vector<T> const& list, int number) {
    auto const place = static_cast<std::size_t>(number);
    return number >= 0 && place < list.size() ? list[place].name : std::string("?");
}

}  // namespace

std::string name_of(Settings const& settings, Subject subject) {
    switch (subject.kind) {
        case SubjectKind::probe:
            return name_at(settings.probes, subject.number);
        case SubjectKind::vessel:
            return name_at(settings.vessels, subject.number);
        case SubjectKind::dish:
            return name_at(settings.dishes, subject.number);
        case SubjectKind::kitchen:
            break;
    }
    return settings.name;
}

std::string device_of(ProbeSettings const& probe) {
    std::string text;
    for (auto const& [key, free] : probe.options) {
        if (!text.empty()) text += ' ';
        text += key + '=';
        if (auto const* word = std::get_if<std::string>(&free.value)) text += *word;
        if (auto const* whole = std::get_if<std::int64_t>(&free.value)) text += std::to_string(*whole);
    }
    return text;
}

std::string iso_time(Instant at, std::optional<ClockAnchor> const& anchor) {
    if (!anchor || !anchor->certain) return {};
    auto const wall_ms = at.time_since_epoch().count() + anchor->offset_ms;
    auto const wall = static_cast<std::time_t>(wall_ms >= 0 ? wall_ms / 1000 : (wall_ms - 999) / 1000);
    std::tm local{};
    if (!localtime_r(&wall, &local)) return {};
    char buffer[40];
    auto const length = std::strftime(buffer, sizeof buffer, "%Y-%m-%dT%H:%M:%S%z", &local);
    std::string text(buffer, length);
    text.insert(text.size() - 2, ":");  // +0100 -> +01:00
    return text;
}

}  // namespace ingle
