// ingle probe list: what is wired, and what is there and in no kitchen file
// yet, with the lines to add.
#include <memory>
#include <ostream>

#include "drivers/api/registry.hpp"
#include "tools/cli/live/now_text.hpp"
#include "tools/cli/past/book.hpp"
#include "tools/cli/probe/devices.hpp"
#include "tools/cli/probe/probe.hpp"
#include "tools/cli/program/files.hpp"
#include "tools/cli/program/page.hpp"
#include "tools/cli/time/local_time.hpp"

namespace ingle::cli {
namespace {

void print_lines(std::ostream& out, Device const& device) {
    out << "      [[probe]]\n      name = \"...\"\n";
    for (auto const& line : device_lines(device)) out << "      " << line << "\n";
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
    for (auto const& device : fresh) {
        context.out << "  " << device.found.what << "\n";
        print_lines(context.out, device);
    }
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
    command.does([&context, kitchen, json] {
        return on_a_page(context, [&](Context& page) { return list(page, *kitchen, *json); });
    });
}

}  // namespace ingle::cli
