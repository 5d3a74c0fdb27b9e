#include "drivers/reading/fault.hpp"

#include <array>
#include <utility>

namespace ingle {
namespace {

constexpr std::array<std::pair<FaultKind, std::string_view>, 13> words{{
    {FaultKind::open, "open"},
    {FaultKind::short_to_ground, "short-to-ground"},
    {FaultKind::short_to_supply, "short-to-supply"},
    {FaultKind::short_circuit, "short"},
    {FaultKind::garbled, "garbled"},
    {FaultKind::no_reply, "no-reply"},
    {FaultKind::absent, "absent"},
    {FaultKind::refused, "refused"},
    {FaultKind::out_of_range, "out-of-range"},
    {FaultKind::power_on_value, "power-on-value"},
    {FaultKind::not_powered, "not-powered"},
    {FaultKind::stale, "stale"},
    {FaultKind::unspecified, "unspecified"},
}};

}  // namespace

std::string_view to_word(FaultKind kind) {
    for (auto const& [k, word] : words)
        if (k == kind) return word;
    return "unspecified";
}

std::optional<FaultKind> fault_kind_from(std::string_view word) {
    for (auto const& [k, w] : words)
        if (w == word) return k;
    return std::nullopt;
}

}  // namespace ingle
