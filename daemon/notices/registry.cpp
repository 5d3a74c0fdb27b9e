#include <algorithm>
#include <array>
#include <string>
#include <string_view>
#include <utility>
#include <vector>

#include "config/reader.hpp"
#include "daemon/notices/notifier.hpp"
#include "daemon/notices/policy.hpp"

namespace ingle {

#define NOTICE(kind)                \
    namespace kind {                \
    extern NotifierInfo const info; \
    }
#define NOTICE_LEFT_OUT(kind, part)
#include "notices.inc"
#undef NOTICE

namespace {

#define NOTICE(kind) &kind::info,
constexpr std::array<NotifierInfo const*, NOTICE_COUNT> all{
#include "notices.inc"
};
#undef NOTICE
#undef NOTICE_LEFT_OUT

constexpr std::pair<std::string_view, std::string_view> absent[] = {
#define NOTICE(kind)
#define NOTICE_LEFT_OUT(kind, part) {#kind, #part " was not there when Ingle was built"},
#include "notices.inc"
#undef NOTICE
#undef NOTICE_LEFT_OUT
    {"", ""}};

// The same kinds of values as a driver's options; a list of texts is checked as one text.
Options options_of(FreeKeys const& keys) {
    Options options;
    for (auto const& [name, free] : keys) {
        auto const* texts = std::get_if<std::vector<std::string>>(&free.value);
        if (texts)
            options.set(name, texts->empty() ? "" : texts->front());
        else
            std::visit(
                [&options, &name = name](auto const& value) {
                    if constexpr (std::is_constructible_v<OptionValue, decltype(value)>)
                        options.set(name, value);
                },
                free.value);
    }
    return options;
}

}  // namespace

std::span<NotifierInfo const* const> notifiers() {
    return all;
}

NotifierInfo const* find_notifier(std::string_view kind) {
    auto const found = std::ranges::find(all, kind, [](NotifierInfo const* info) { return info->name; });
    return found == all.end() ? nullptr : *found;
}

std::vector<ConfigError> channel_problems(Settings const& settings) {
    std::vector<ConfigError> errors;
    for (auto const& channel : settings.channels) {
        auto const prefix = "channel." + channel.name + '.';
        auto const* info = find_notifier(channel.kind);
        if (!info && channel.kind.empty()) continue;  // the reader of the file has complained
        if (!info) {
            std::vector<std::string_view> known;
            for (auto const* each : notifiers()) known.emplace_back(each->name);
            auto const meant = nearest(channel.kind, known);
            auto const* const out =
                std::ranges::find(absent, channel.kind, [](auto const& a) { return a.first; });
            if (out != std::end(absent))
                errors.push_back({channel.where, prefix + "kind",
                                  "this Ingle has no \"" + channel.kind + "\": " + std::string(out->second),
                                  "build it with that package"});
            else
                errors.push_back(
                    {channel.where, prefix + "kind", "\"" + channel.kind + "\" is no way to send a notice",
                     meant ? "did you mean \"" + std::string(*meant) + "\"?" : "write " + listed(known)});
            continue;
        }
        std::vector<OptionInfo> known(info->options.begin(), info->options.end());
        if (info->carries_notices)
            known.insert(known.end(), policy_options().begin(), policy_options().end());
        else if (channel.least != Priority::low || channel.after.seconds > 0)
            errors.push_back({channel.where, prefix + (channel.after.seconds > 0 ? "after" : "least"),
                              "means nothing: no notice goes through a " + channel.kind, "leave it out"});
        if (auto const links = channel.options.find("links");
            links != channel.options.end() && !settings.serve.tcp)
            errors.push_back({links->second.where, prefix + "links", "has no page to lead to",
                              "write [serve], or leave it out"});
        for (auto const& problem : problems(known, options_of(channel.options))) {
            auto const given = channel.options.find(problem.key);
            errors.push_back({given == channel.options.end() ? channel.where : given->second.where,
                              prefix + problem.key, problem.wrong, problem.right});
        }
    }
    return errors;
}

std::vector<std::string> texts_of(FreeKeys const& options, std::string_view key) {
    auto const found = options.find(key);
    if (found == options.end()) return {};
    if (auto const* one = std::get_if<std::string>(&found->second.value)) return {*one};
    if (auto const* list = std::get_if<std::vector<std::string>>(&found->second.value)) return *list;
    return {};
}

std::string text_of(FreeKeys const& options, std::string_view key, std::string_view otherwise) {
    auto const texts = texts_of(options, key);
    return texts.empty() ? std::string(otherwise) : texts.front();
}

}  // namespace ingle
