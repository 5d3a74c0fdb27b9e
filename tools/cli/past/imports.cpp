#include "tools/cli/past/imports.hpp"

#include <algorithm>

namespace ingle::cli {
bool could_be_import(std::string const& name) {
    return !name.empty() && name.size() <= 64 && std::ranges::all_of(name, [](char c) {
        return (c >= 'a' && c <= 'z') || (c >= '0' && c <= '9') || c == '-';
    });
}

std::filesystem::path import_folder(Context const& context) {
    return context.state / "imported";
}

std::filesystem::path import_path(Context const& context, std::string const& name) {
    if (!could_be_import(name)) return {};
    auto path = import_folder(context) / (name + ".db");
    std::error_code ignored;
    return std::filesystem::exists(path, ignored) ? path : std::filesystem::path();
}

std::vector<std::string> imports(Context const& context) {
    std::vector<std::string> names;
    std::error_code error;
    for (auto const& entry : std::filesystem::directory_iterator(import_folder(context), error))
        if (entry.path().extension() == ".db" && could_be_import(entry.path().stem().string()))
            names.push_back(entry.path().stem().string());
    std::ranges::sort(names);
    return names;
}

}  // namespace ingle::cli
