#include "config/load.hpp"

#include <fstream>
#include <iterator>
#include <set>
#include <tuple>

#include "config/sections.hpp"

namespace ingle {
namespace {

// Empty: it is not there, is no file, cannot be read to its end, or is longer than any kitchen file.
std::optional<std::string> contents(std::filesystem::path const& file) {
    std::error_code error;
    if (!std::filesystem::is_regular_file(file, error)) return std::nullopt;
    std::ifstream in(file, std::ios::binary);
    std::string text(longest_kitchen_file + 1, '\0');
    try {  // a card that answers with an error while it is read is an exception of the buffer's
        in.read(text.data(), static_cast<std::streamsize>(text.size()));
    } catch (std::ios_base::failure const&) {
        return std::nullopt;
    }
    if (!in.eof() || in.bad()) return std::nullopt;
    text.resize(static_cast<std::size_t>(in.gcount()));
    return text;
}

// Everything but the plans, which a caller reads from where it knows them.
Loaded read_document(std::string_view text, std::string const& file) {
    Loaded loaded;
    loaded.settings.file = file;
    auto const document = parse_document(text, file, loaded.errors);
    if (!loaded.errors.empty()) return loaded;
    read_kitchen(document, loaded);
    return loaded;
}

void finish(Loaded& loaded) {
    join_plans(loaded);
    sort_by_place(loaded.errors, loaded.settings.file);
    sort_by_place(loaded.warnings, loaded.settings.file);
}

// `find` gives the file and the text of a plan by what a dish calls it, `instead_of` what would be right for
// one that is not there.
Loaded with_plans(std::string_view text, std::string const& file, auto const& find, auto const& instead_of) {
    auto loaded = read_document(text, file);
    loaded.texts.file = file;
    loaded.texts.text = text;
    auto& plans = loaded.settings.plans;
    for (auto& dish : loaded.settings.dishes) {
        if (dish.plan.empty()) continue;
        auto const found = find(dish.plan);
        if (!found) {
            loaded.errors.push_back({dish.where, "dish." + dish.name + ".plan",
                                     "there is no plan " + in_quotes(dish.plan), instead_of(dish.plan)});
            dish.plan.clear();
            continue;
        }
        loaded.texts.plans.emplace(dish.plan, *found);
        auto const known = std::ranges::find(plans, found->file, &PlanSettings::file);
        if (known != plans.end()) {
            dish.plan = known->name;
            continue;
        }
        auto plan = read_plan(found->text, found->file, loaded.errors);
        dish.plan = plan.name;
        if (auto const same = std::ranges::find(plans, plan.name, &PlanSettings::name);
            same != plans.end() && !plan.name.empty())
            loaded.errors.push_back({plan.where, "name",
                                     in_quotes(plan.name) + " is also the name of the plan in " + same->file,
                                     "give each plan its own name"});
        plans.push_back(std::move(plan));
    }
    finish(loaded);
    return loaded;
}

// Where plans are looked up by name: beside the kitchen file first.
class PlanPlaces {
public:
    PlanPlaces(std::filesystem::path const& kitchen, std::vector<std::filesystem::path> const& more)
        : beside_(kitchen.parent_path()), folders_{beside_ / "plans"} {
        folders_.insert(folders_.end(), more.begin(), more.end());
    }
    // "poach" is looked up by name, "plans/poach.toml" is a path as seen from the kitchen file.
    std::optional<std::filesystem::path> find(std::string const& plan) const {
        std::error_code error;
        bool const named = !plan.ends_with(".toml") && plan.find('/') == std::string::npos;
        auto const path = beside_ / (named ? plan + ".toml" : plan);
        if (std::filesystem::is_regular_file(path, error)) return path;
        if (named)
            for (auto const& folder : folders_)
                if (auto inside = folder / (plan + ".toml"); std::filesystem::is_regular_file(inside, error))
                    return inside;
        return std::nullopt;
    }
    // For a plan that is not there: the nearest name, else all names of the folders of plans.
    std::string instead_of(std::string_view plan) const {
        auto const all = names();
        if (all.empty()) return "a plan file beside the kitchen file or in plans/ next to it";
        std::vector<std::string_view> const views(all.begin(), all.end());
        auto const near = nearest(plan, views);
        return (near ? "did you mean " + in_quotes(*near) + "? Else " : "") + "write " + listed(views);
    }

private:
    std::set<std::string> names() const {
        std::set<std::string> found;
        std::error_code error;
        for (auto const& folder : folders_)
            for (auto const& entry : std::filesystem::directory_iterator(folder, error))
                if (entry.path().extension() == ".toml") found.insert(entry.path().stem().string());
        return found;
    }
    std::filesystem::path beside_;
    std::vector<std::filesystem::path> folders_;
};

}  // namespace

void sort_by_place(std::vector<ConfigError>& errors, std::string const& first_file) {
    std::ranges::stable_sort(errors, [&](ConfigError const& a, ConfigError const& b) {
        auto const place = [&](ConfigError const& e) {
            return std::tuple(e.where.file != first_file, e.where.file, e.where.line, e.where.column);
        };
        return place(a) < place(b);
    });
    // Two dishes on one plan find the same mistake in it.
    auto const same = [](ConfigError const& a, ConfigError const& b) { return a.text() == b.text(); };
    errors.erase(std::unique(errors.begin(), errors.end(), same), errors.end());
}

std::string ConfigError::text() const {
    std::string out = where.file;
    if (where.line > 0) out += ':' + std::to_string(where.line) + ':' + std::to_string(where.column);
    out += ": ";
    if (!key.empty()) out += key + ": ";
    out += wrong;
    if (!right.empty()) out += ", " + right;
    return out;
}

Loaded parse_kitchen(std::string_view text, std::string const& file, std::vector<PlanSettings> plans) {
    auto loaded = read_document(text, file);
    loaded.settings.plans = std::move(plans);
    finish(loaded);
    return loaded;
}

Loaded load_kitchen(std::filesystem::path const& file,
                    std::vector<std::filesystem::path> const& plan_folders) {
    auto const text = contents(file);
    if (!text) {
        Loaded nothing;
        nothing.settings.file = file.string();
        nothing.errors.push_back(
            {{file.string(), 0, 0}, "", "cannot be read", "name a kitchen file that exists"});
        return nothing;
    }
    PlanPlaces const places(file, plan_folders);
    auto const find = [&](std::string const& plan) -> std::optional<KitchenTexts::Plan> {
        auto const path = places.find(plan);
        auto plan_text = path ? contents(*path) : std::nullopt;
        if (!plan_text) return std::nullopt;
        return KitchenTexts::Plan{path->string(), std::move(*plan_text)};
    };
    return with_plans(*text, file.string(), find, [&](auto const& plan) { return places.instead_of(plan); });
}

Loaded load_kitchen(KitchenTexts const& texts) {
    auto const find = [&](std::string const& plan) -> std::optional<KitchenTexts::Plan> {
        auto const found = texts.plans.find(plan);
        return found == texts.plans.end() ? std::nullopt : std::optional(found->second);
    };
    return with_plans(texts.text, texts.file, find, [](auto const&) { return "a plan that was kept"; });
}

}  // namespace ingle
