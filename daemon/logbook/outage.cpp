// How long nothing was watched before a start, as far as the clocks on both sides of it tell.
#include "daemon/logbook/logbook.hpp"

namespace ingle::logbook {
namespace {

constexpr char const* offset_key = "outage.offset-ms";
constexpr char const* memory_key = "outage.memory-ms";
constexpr char const* from_key = "outage.from";

// What the memory says of an outage before its own boot.
std::optional<Unmeasured> kept(Resumed const& resumed) {
    if (!resumed.off_at || resumed.memory_boot.id != resumed.off_boot.id) return std::nullopt;
    Memory written = resumed.memory;
    written.shift_instants(Span(0));
    auto const offset = written.integer(offset_key), memory = written.integer(memory_key);
    auto const from = written.instant(from_key);
    if (!offset || !memory || !from) return std::nullopt;
    return Unmeasured{*offset, *memory, *from};
}

}  // namespace

void put(Memory& memory, Unmeasured const& outage) {
    memory.put(offset_key, outage.offset_ms);
    memory.put(memory_key, outage.memory_ms);
    memory.put(from_key, outage.from);
}

std::optional<Unmeasured> unmeasured(Resumed const& resumed, ClockAnchor const& clock) {
    if (clock.proven || !resumed.off_at) return std::nullopt;
    auto const before = kept(resumed);
    if (resumed.off_boot.this_one) return before;
    if (!before && !resumed.off_boot.proven) return std::nullopt;
    auto const& memory = resumed.memory_boot;
    auto const offset = Span(before ? before->offset_ms : resumed.off_boot.offset_ms);
    // As memory_in_this_boot() shifts it.
    auto const shifted = memory.this_one ? 0 : memory.offset_ms - resumed.offset_ms;
    return Unmeasured{(*resumed.off_at + offset - resumed.started).count(),
                      (before ? before->memory_ms : memory.offset_ms) - shifted, resumed.started};
}

Memory memory_in_this_boot(Resumed const& resumed, ClockAnchor const& clock) {
    Memory memory = resumed.memory;
    auto const& boot = resumed.memory_boot;
    auto const here = clock.proven ? clock.offset_ms : resumed.offset_ms;
    Span const shift(boot.this_one ? 0 : boot.offset_ms - here);
    memory.shift_instants(shift);
    auto const before = kept(resumed);
    if (!before || !clock.proven) return memory;
    // What that boot did itself: where its clock was right in the end, known; else at the latest that it can
    // be, just before this start.
    memory.shift_instants(Span(before->memory_ms - clock.offset_ms));
    bool const placed = boot.this_one || boot.proven;
    memory.shift_newer(before->from, placed ? shift : resumed.started - *resumed.off_at, placed);
    return memory;
}

bool is_a_sum(Resumed const& resumed, ClockAnchor const& clock) {
    return clock.proven && kept(resumed).has_value();
}

std::optional<Instant> off_since(Resumed const& resumed, ClockAnchor const& clock) {
    auto const& boot = resumed.off_boot;
    auto const before = clock.proven ? kept(resumed) : std::nullopt;
    if (before) return *resumed.off_at + Span(before->offset_ms - clock.offset_ms);
    if (!resumed.off_at || boot.this_one) return resumed.off_at;
    if (!boot.proven || !clock.proven) return std::nullopt;
    return *resumed.off_at + Span(boot.offset_ms - clock.offset_ms);
}

bool off_since_can_be_learnt(Resumed const& resumed, ClockAnchor const& clock) {
    if (!resumed.off_at || clock.proven) return false;
    return kept(resumed).has_value() || (!resumed.off_boot.this_one && resumed.off_boot.proven);
}

}  // namespace ingle::logbook
