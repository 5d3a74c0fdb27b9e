// When dishes are to be on the table: as the kitchen file has it, until somebody says another time. That one
// is remembered until the file says another one than it did then.
#include "daemon/kitchen/impl.hpp"
#include "daemon/schedule/clock_text.hpp"

namespace ingle {
namespace {

constexpr std::int64_t longest_ahead_ms = 366LL * 86'400'000;

std::string key_of(DishSettings const& dish, char const* what) {
    return std::string("serving.") + dish.name + what;
}

// "none", or milliseconds since 1970.
std::string text_of(std::optional<std::int64_t> at) {
    return at ? std::to_string(*at) : "none";
}

}  // namespace

void Kitchen::Impl::obey(ServeAt const& serve, Effects& out) {
    Subject const about{SubjectKind::dish, serve.dish};
    if (!here(about, out)) return;
    auto const number = static_cast<std::size_t>(serve.dish);
    auto& dish = settings.dishes[number];
    std::string told;
    if (serve.at) {
        if (!clock_certain || !wall_offset_ms)
            return refuse(about, "the time is not known yet, and a serving time goes by it", out);
        auto const present = now.time_since_epoch().count() + *wall_offset_ms;
        if (*serve.at <= present) return refuse(about, "that time is over already: say a time to come", out);
        if (*serve.at > present + longest_ahead_ms)
            return refuse(about, "that is more than a year ahead", out);
        auto const minutes = (*serve.at - present) / 60'000;
        auto const left = show(Duration{static_cast<double>(minutes) * 60});
        told = dish.name + " is to be served " +
               (zone ? "at " + schedule::clock_text(*zone, *serve.at / 1000, present / 1000) + ", in " + left
                     : "in " + left) +
               ".";
    } else {
        if (!dish.serve_at) return refuse(about, dish.name + " has no serving time", out);
        told = dish.name + " has no serving time any more.";
    }
    dish.serve_at = serve.at;
    begins[number] = {};
    dishes[number].helps.reset();
    tell("note", about, std::move(told), out);
    changed(out);
}

void Kitchen::Impl::remember_serving_times(Memory& memory) const {
    for (std::size_t d = 0; d < settings.dishes.size(); ++d) {
        auto const& dish = settings.dishes[d];
        if (dish.serve_at == filed_serve_at[d]) continue;
        memory.put(key_of(dish, ".at"), text_of(dish.serve_at));
        memory.put(key_of(dish, ".instead-of"), text_of(filed_serve_at[d]));
    }
}

void Kitchen::Impl::recall_serving_times(Memory const& memory) {
    for (std::size_t d = 0; d < settings.dishes.size(); ++d) {
        auto& dish = settings.dishes[d];
        auto const said = memory.text(key_of(dish, ".at"));
        if (!said || memory.text(key_of(dish, ".instead-of")) != text_of(filed_serve_at[d])) continue;
        dish.serve_at = *said == "none" ? std::nullopt : memory.integer(key_of(dish, ".at"));
    }
}

}  // namespace ingle
