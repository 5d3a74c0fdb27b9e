#include "daemon/run/names.hpp"

#include <chrono>

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

std::string wall_text(Instant at, std::optional<ClockAnchor> const& anchor, TimeZone const& zone) {
    if (!anchor || !anchor->certain) return {};
    WallTime const wall(at.time_since_epoch() + Span(anchor->offset_ms));
    return zone.iso(std::chrono::floor<std::chrono::seconds>(wall), "+00:00");
}

}  // namespace ingle
