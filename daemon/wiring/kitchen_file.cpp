#include "daemon/wiring/kitchen_file.hpp"

#include "daemon/wiring/validation.hpp"

namespace ingle {

Loaded load_kitchen_and_plans(std::filesystem::path const& file) {
    auto loaded = load_kitchen(file, {file.parent_path() / "../plans"});
    resolve_paths(loaded.settings);
    return loaded;
}

Loaded load_kitchen_for_use(std::filesystem::path const& file) {
    auto loaded = load_kitchen_and_plans(file);
    auto const unreadable = loaded.text.empty() && !loaded.errors.empty();
    if (!unreadable) check_for_use(loaded);
    sort_by_place(loaded.errors, loaded.settings.file);
    sort_by_place(loaded.warnings, loaded.settings.file);
    return loaded;
}

}  // namespace ingle
