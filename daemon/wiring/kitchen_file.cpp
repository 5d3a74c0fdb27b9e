#include "daemon/wiring/kitchen_file.hpp"

#include <algorithm>
#include <iterator>
#include <utility>

#include "daemon/wiring/validation.hpp"

namespace ingle {
namespace {

Loaded checked(Loaded loaded) {
    auto const unreadable = loaded.texts.text.empty() && !loaded.errors.empty();
    if (!unreadable) check_for_use(loaded);
    sort_by_place(loaded.errors, loaded.settings.file);
    sort_by_place(loaded.warnings, loaded.settings.file);
    return loaded;
}

Loaded without_what_fails(Loaded loaded) {
    auto& settings = loaded.settings;
    auto const is_of = [](std::string const& part) {
        return [part](ConfigError const& error) { return (error.key + '.').starts_with(part + '.'); };
    };
    auto const leave_out = [&](std::string const& part) {
        if (std::ranges::none_of(loaded.errors, is_of(part))) return false;
        std::ranges::copy_if(loaded.errors, std::back_inserter(loaded.warnings), is_of(part));
        std::erase_if(loaded.errors, is_of(part));
        return true;
    };
    std::erase_if(settings.channels,
                  [&](auto const& channel) { return leave_out("channel." + channel.name); });
    if (leave_out("serve")) settings.serve = {};
    return loaded;
}

}  // namespace

std::vector<std::filesystem::path> shipped_plans(std::filesystem::path const& program) {
    auto const folder = program.parent_path();
    return {(folder / "../share/ingle/plans").lexically_normal(),
            (folder / "../../config/plans").lexically_normal()};
}

std::vector<std::filesystem::path> shipped_plans() {
    std::error_code error;
    auto const program = std::filesystem::read_symlink("/proc/self/exe", error);
    return error ? std::vector<std::filesystem::path>() : shipped_plans(program);
}

Loaded load_kitchen_and_plans(std::filesystem::path const& file) {
    std::vector<std::filesystem::path> folders{file.parent_path() / "../plans"};
    for (auto const& shipped : shipped_plans()) folders.push_back(shipped);
    auto loaded = load_kitchen(file, folders);
    resolve_paths(loaded.settings);
    return loaded;
}

Loaded load_kitchen_for_use(std::filesystem::path const& file) {
    return checked(load_kitchen_and_plans(file));
}

Loaded load_kitchen_for_use(KitchenTexts const& texts) {
    auto loaded = load_kitchen(texts);
    resolve_paths(loaded.settings);
    return without_what_fails(checked(std::move(loaded)));
}

}  // namespace ingle
