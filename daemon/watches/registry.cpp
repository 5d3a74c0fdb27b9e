#include "daemon/watches/registry.hpp"

namespace ingle {

#define WATCH(folder) extern WatchInfo const folder##_watch;
#include "watches.inc"
#undef WATCH

namespace {

constexpr WatchInfo const* built[] = {
#define WATCH(folder) &folder##_watch,
#include "watches.inc"
#undef WATCH
};

}  // namespace

std::span<WatchInfo const* const> watches() {
    return built;
}

}  // namespace ingle
