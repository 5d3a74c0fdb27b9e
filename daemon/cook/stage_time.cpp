#include "daemon/cook/stage_time.hpp"

#include <algorithm>

namespace ingle {
namespace {

constexpr Span one_step = std::chrono::seconds(2);  // more between two steps was not watched
constexpr Span passing = std::chrono::seconds(10);  // what was inside no longer than this was only handled

}  // namespace

void StageTime::begin(Instant at, StageSettings const& stage) {
    *this = {};
    from_begin_ = stage.counts_from_begin || !stage.band;
    excursion_ = from_seconds(stage.excursion.seconds);
    newest_ = at;
    band_ = from_begin_ ? AtBand::none : AtBand::outside;
}

void StageTime::leave(Instant now) {
    if (!reached_ || now - *reached_ > passing) return;
    reached_.reset();
    counted_ = outside_ = Span(0);
}

void StageTime::pass(Span passed, bool excursion) {
    if (!excursion) {
        counted_ += passed;
        return;
    }
    counted_ += std::clamp(excursion_ - outside_, Span(0), passed);
    outside_ += passed;
}

// What nobody read counts when the next reading has come, and no longer than an excursion does: a stage never
// ends by time that was not seen.
void StageTime::pass_unread() {
    if (reached_) pass(unread_, true);
    unread_ = Span(0);
}

void StageTime::step(Instant now, AtBand band) {
    auto const passed = std::max(Span(0), now - newest_);
    newest_ = std::max(newest_, now);
    band_ = from_begin_ ? AtBand::none : band;
    switch (band_) {
        case AtBand::none:
            pass(passed, false);
            return;
        case AtBand::rim:
            if (!reached_) return;
            [[fallthrough]];
        case AtBand::inside:
            pass_unread();
            if (reached_) pass(passed, passed > one_step);
            if (!reached_) reached_ = now;
            outside_ = Span(0);
            return;
        case AtBand::outside:
            leave(now);
            pass_unread();
            if (reached_) pass(passed, true);
            return;
        case AtBand::unknown:
            unread_ += passed;
            return;
    }
}

std::string_view StageTime::state() const {
    if (band_ == AtBand::none || band_ == AtBand::inside) return "counts";
    if (!reached_) return band_ == AtBand::unknown ? "waits: no reading" : "waits for its band";
    if (band_ == AtBand::unknown) return "stopped: no reading";
    return outside_ < excursion_ ? "counts" : "stopped: outside its band";
}

void StageTime::remember(Memory& memory, std::string const& prefix) const {
    memory.put(prefix + "counted-ms", std::int64_t{counted_.count()});
    memory.put(prefix + "outside-ms", std::int64_t{outside_.count()});
    memory.put(prefix + "unread-ms", std::int64_t{unread_.count()});
    memory.put(prefix + "newest", newest_);
    if (reached_) memory.put(prefix + "reached", *reached_);
}

void StageTime::recall(Memory const& memory, std::string const& prefix) {
    auto const counted = memory.integer(prefix + "counted-ms");
    auto const newest = memory.instant(prefix + "newest");
    if (!counted || !newest) return;
    counted_ = Span(*counted);
    outside_ = Span(memory.integer(prefix + "outside-ms").value_or(0));
    unread_ = Span(memory.integer(prefix + "unread-ms").value_or(0));
    newest_ = *newest;
    reached_ = memory.instant(prefix + "reached");
}

}  // namespace ingle
