#include "daemon/wiring/kitchen_file.hpp"

#include <utility>

#include "daemon/notices/notifier.hpp"
#include "daemon/wiring/wiring.hpp"

namespace ingle {

Loaded load_kitchen_and_plans(std::filesystem::path const& file) {
    return load_kitchen(file, {file.parent_path() / "../plans"});
}

Loaded load_kitchen_for_use(std::filesystem::path const& file) {
    auto loaded = load_kitchen_and_plans(file);
    auto const& settings = loaded.settings;
    for (auto& error : wiring_problems(settings)) loaded.errors.push_back(std::move(error));
    for (auto& error : channel_problems(settings)) loaded.errors.push_back(std::move(error));
    sort_by_place(loaded.errors, settings.file);
    return loaded;
}

}  // namespace ingle
