// ingle explain plan: which plans come with Ingle, and what one means, in sentences.
#include <memory>
#include <ostream>
#include <set>

#include "config/did_you_mean.hpp"
#include "daemon/wiring/kitchen_file.hpp"
#include "tools/cli/calc/calc.hpp"
#include "tools/cli/calc/explain.hpp"
#include "tools/cli/output/plan_words.hpp"
#include "tools/cli/output/text.hpp"
#include "tools/cli/program/files.hpp"

namespace ingle::cli {
namespace {

struct Options {
    std::string plan, units;
};

// The comment that a plan file begins with.
std::string first_comment(std::string_view text) {
    std::string all;
    while (text.starts_with('#')) {
        auto const end = std::min(text.find('\n'), text.size());
        all += (all.empty() ? "" : " ") +
               std::string(text.substr(std::min<std::size_t>(2, end), end - std::min<std::size_t>(2, end)));
        text.remove_prefix(std::min(end + 1, text.size()));
    }
    return all;
}

std::set<std::filesystem::path> shipped_files() {
    std::set<std::filesystem::path> files;
    std::error_code error;
    for (auto const& folder : shipped_plans())
        for (auto const& entry : std::filesystem::directory_iterator(folder, error))
            if (entry.path().extension() == ".toml") files.insert(entry.path());
    return files;
}

std::filesystem::path file_of(std::string const& plan) {
    std::error_code error;
    for (auto const& given : {plan, plan + ".toml", "plans/" + plan + ".toml"})
        if (std::filesystem::is_regular_file(given, error)) return given;
    std::string names;
    std::vector<std::string> known;
    for (auto const& file : shipped_files()) {
        if (file.stem() == plan) return file;
        known.push_back(file.stem().string());
        names += (names.empty() ? "" : ", ") + file.stem().string();
    }
    throw Failure("there is no plan \"" + plan + "\"; there are: " + names + did_you_mean(plan, known),
                  wrong_usage);
}

int explain_plan(Context& context, Options const& given) {
    auto const unit = unit_to_show(context, given.units);
    auto const width = terminal().width;
    if (given.plan.empty()) {
        for (auto const& file : shipped_files())
            context.out << file.stem().string() << "\n"
                        << wrapped(first_comment(read_file(file, longest_kitchen_file)), width, "    ")
                        << "\n";
        context.out << "One in sentences: ingle explain plan NAME\n";
        return done;
    }
    auto const file = file_of(given.plan);
    std::vector<ConfigError> errors;
    auto const text = read_file(file, longest_kitchen_file);
    auto const plan = read_plan(text, file.string(), errors);
    for (auto const& error : errors) context.out << error.text() << "\n";
    if (!errors.empty()) return wrong_usage;
    context.out << wrapped(first_comment(text), width, "") << "\n\n";
    int number = 0;
    for (auto const& sentence : plan_sentences(plan, unit))
        context.out << wrapped(std::to_string(++number) + ". " + sentence, width, "  ") << "\n";
    context.out << wrapped("A copy of " + file.lexically_normal().string() +
                               " beside your kitchen file is used before it: change what you like there.",
                           width, "")
                << "\n";
    return done;
}

}  // namespace

void add_explain_plan(Verb const& explain, Context& context) {
    auto const given = std::make_shared<Options>();
    auto const plan = explain.verb("plan", "the plans that come with Ingle, or what one means, in sentences",
                                   "  ingle explain plan\n  ingle explain plan poach");
    plan.option("PLAN", given->plan, "its name, or its file; else all");
    plan.option("--units", given->units, "degF or degC; else the running kitchen's");
    plan.does([&context, given] { return explain_plan(context, *given); });
}

}  // namespace ingle::cli
