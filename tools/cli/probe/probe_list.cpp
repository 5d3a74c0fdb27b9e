// ingle probe list: what is wired, and what is there and in no kitchen file yet, with the lines to add.
#include <algorithm>
#include <filesystem>
#include <memory>
#include <ostream>

#include "daemon/wiring/wiring.hpp"
#include "drivers/api/registry.hpp"
#include "tools/cli/live/now_text.hpp"
#include "tools/cli/past/book.hpp"
#include "tools/cli/probe/probe.hpp"
#include "tools/cli/program/files.hpp"
#include "tools/cli/time/local_time.hpp"

namespace ingle::cli {
namespace {

struct Device {
    DriverInfo const* driver;
    Found found;
};

std::string otherwise_of(DriverInfo const& driver, std::string_view key) {
    auto const info = std::ranges::find(driver.options, key, &OptionInfo::name);
    return info == driver.options.end() ? std::string() : std::string(info->otherwise);
}

bool same_device(std::string const& given, Found::Option const& option) {
    if (given == option.value || std::ranges::find(option.also, given) != option.also.end())
        return !given.empty();
    std::error_code ignored;  // a path may be written in more ways than one
    return given.starts_with('/') && std::filesystem::equivalent(given, option.value, ignored);
}

// Does a probe of the kitchen read this device already? A port serves drivers of more than one kind.
bool configured(Settings const& settings, Device const& device) {
    return std::ranges::any_of(settings.probes, [&](ProbeSettings const& probe) {
        auto const* driver = find_driver(probe.driver);
        if (!driver) return false;
        auto const options = to_options(probe.options);
        return std::ranges::all_of(device.found.options, [&](Found::Option const& option) {
            auto const knows =
                std::ranges::find(driver->options, option.key, &OptionInfo::name) != driver->options.end();
            return knows && same_device(options.text(option.key, otherwise_of(*driver, option.key)), option);
        });
    });
}

// What of the design's wiring only a person knows is left open, with a word of help.
std::string lines_to_add(Device const& device) {
    std::string text = "      [[probe]]\n      name = \"...\"\n      driver = \"" +
                       std::string(device.driver->name) + "\"\n";
    for (auto const& option : device.found.options)
        text += "      " + std::string(option.key) + " = \"" + option.value + "\"\n";
    for (auto const& info : device.driver->options) {
        bool const given = std::ranges::find(device.found.options, info.name, &Found::Option::key) !=
                           device.found.options.end();
        if (given || !(info.required || info.name == "channel" || info.name == "unit")) continue;
        std::string help(info.help);
        for (auto const word : info.allowed)
            help += std::string(word == info.allowed.front() ? ": " : ", ") + std::string(word);
        auto const value = info.otherwise.empty() ? "..." : std::string(info.otherwise);
        text += "      " + std::string(info.name) + " = \"" + value + "\"   # " + help + "\n";
    }
    return text;
}

std::vector<Device> find_devices() {
    std::vector<Device> devices;
    for (auto const* driver : drivers())
        if (driver->find)
            for (auto& found : driver->find("/")) devices.push_back({driver, std::move(found)});
    return devices;
}

struct View {
    Json now;             // null: no daemon
    std::string trouble;  // why not
    Settings settings;
};

View look(Context const& context, std::string const& kitchen) {
    View view;
    try {
        view.now = Client(context.socket()).get("/api/now");
    } catch (Failure const& failure) {
        view.trouble = failure.what();
    }
    if (!kitchen.empty()) {
        view.settings = read_kitchen(kitchen);
    } else {
        try {
            view.settings = Book(context, "").settings_at(wall_now());
        } catch (Failure const&) {  // a first look, before there is a logbook
        }
    }
    return view;
}

void print_wired(Context& context, View const& view) {
    Table table;
    if (view.now.is_null()) {
        for (auto const& probe : view.settings.probes) table.row({probe.name, probe.driver});
        context.out << (table.empty() ? "no probe is wired, as far as is known" : table.text("")) << "\n"
                    << "not read: " << view.trouble << "\n";
        return;
    }
    auto const unit = unit_of(view.now);
    for (auto const& probe : view.now.at("probes")) {
        auto const celsius = number_in(probe, "celsius");
        auto const trouble = text_in(probe, "trouble");
        if (celsius)
            table.row({text_in(probe, "name"), text_in(probe, "driver"), temperature_text(*celsius, unit),
                       age_text(number_in(probe, "age_s").value_or(0)), text_in(probe, "quality"),
                       points_of(probe).empty() ? "" : "calibrated"});
        else
            table.row({text_in(probe, "name"), text_in(probe, "driver"), "-", "",
                       trouble.empty() ? text_in(probe, "reason") : trouble});
    }
    context.out << table.text("");
}

int list(Context& context, std::string const& kitchen, bool json) {
    auto const view = look(context, kitchen);
    std::vector<Device> fresh;
    for (auto& device : find_devices())
        if (!configured(view.settings, device)) fresh.push_back(std::move(device));
    if (json) {
        Json found = Json::array();
        for (auto const& device : fresh) {
            Json options = Json::object();
            for (auto const& option : device.found.options) options[std::string(option.key)] = option.value;
            found.push_back(
                {{"driver", device.driver->name}, {"what", device.found.what}, {"options", options}});
        }
        context.out << Json{{"probes", view.now.is_null() ? Json::array() : view.now.at("probes")},
                            {"found", found}}
                           .dump(2, ' ', false, Json::error_handler_t::replace)
                    << "\n";
        return done;
    }
    print_wired(context, view);
    context.out << (fresh.empty() ? "\nnothing else was found on this machine\n"
                                  : "\nfound, and not in the kitchen file\n");
    for (auto const& device : fresh) context.out << "  " << device.found.what << "\n" << lines_to_add(device);
    context.out << "\ndrivers in this build\n";
    Table known;
    for (auto const* driver : drivers()) known.row({std::string(driver->name), std::string(driver->summary)});
    context.out << known.text();
    return done;
}

}  // namespace

void add_probe_list(Verb const& probe, Context& context) {
    auto command = probe.verb("list", "what is wired, what else is there, and the drivers of this build",
                              "  ingle probe list\n  ingle probe list --kitchen kitchen.toml");
    auto const kitchen = std::make_shared<std::string>();
    auto const json = std::make_shared<bool>(false);
    command.option("--kitchen", *kitchen, "compare with this kitchen file; else with the one last used");
    command.flag("--json", *json, "answer in JSON");
    command.does([&context, kitchen, json] { return list(context, *kitchen, *json); });
}

}  // namespace ingle::cli
