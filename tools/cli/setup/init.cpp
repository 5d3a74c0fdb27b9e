// ingle init: a first kitchen file, by a few questions or by options. Nothing is overwritten.
#include <algorithm>
#include <array>
#include <cstdio>
#include <filesystem>
#include <memory>
#include <ostream>

#include "daemon/wiring/kitchen_file.hpp"
#include "tools/cli/probe/devices.hpp"
#include "tools/cli/program/command.hpp"
#include "tools/cli/program/kitchen_text.hpp"
#include "tools/cli/program/questions.hpp"

namespace ingle::cli {
namespace {

constexpr std::array<std::string_view, 7> kinds{"pot", "bath", "smoker", "oven", "fridge", "hot-box", "room"};

struct Options {
    std::string file = "kitchen.toml", name, units, altitude, phone;
    std::vector<std::string> vessels;
};

// What the demonstration has of this kind: a thermometer to try with, until
// there is a real one.
std::string simulated_like(std::string_view kind) {
    return kind == "oven" || kind == "hot-box" ? "oven"
           : kind == "pot" || kind == "bath"   ? "stockpot"
           : kind == "room"                    ? "hall"
                                               : std::string(kind);
}

std::vector<std::string> words_of(std::string const& text) {
    std::vector<std::string> words;
    for (std::size_t at = 0; at < text.size();) {
        auto const end = std::min(text.find(' ', at), text.size());
        if (end > at) words.push_back(text.substr(at, end - at));
        at = end + 1;
    }
    return words;
}

bool is_open(std::vector<std::string> const& lines) {
    return std::ranges::any_of(lines,
                               [](auto const& line) { return line.find("\"...\"") != std::string::npos; });
}

// "stockpot pot", "stockpot pot 2": its name, its kind, and which of the
// thermometers found is in it.
NewVessel read_vessel(std::string const& text, std::vector<Device> const& devices,
                      std::vector<std::size_t>& used) {
    auto const words = words_of(text);
    if (words.size() < 2 || words.size() > 3)
        throw Failure("\"" + text + "\" is no vessel: its name and its kind, such as \"stockpot pot\"",
                      wrong_usage);
    if (std::ranges::find(kinds, std::string_view(words[1])) == kinds.end()) {
        std::string list;
        for (auto const kind : kinds) list += (list.empty() ? "" : ", ") + std::string(kind);
        throw Failure("\"" + words[1] + "\" is no kind of vessel; one of " + list, wrong_usage);
    }
    NewVessel vessel{words[0], words[1], {words[0] + "-probe", {}}};
    if (words.size() == 2) {
        vessel.medium.lines = {"driver = \"simulated\"      # until a real one is wired: `ingle probe list`",
                               "of = " + toml_string(simulated_like(vessel.kind))};
        return vessel;
    }
    auto const number = words[2].find_first_not_of("0123456789") == std::string::npos && words[2].size() < 4
                            ? std::stoul(words[2])
                            : 0;
    if (number < 1 || number > devices.size())
        throw Failure("there is no thermometer " + words[2] + "; " +
                          (devices.empty() ? std::string("none was found on this machine")
                                           : std::to_string(devices.size()) + " were found"),
                      wrong_usage);
    used.push_back(number - 1);
    vessel.medium.lines = device_lines(devices[number - 1]);
    return vessel;
}

// Asked again until the kitchen file takes it; what was given as an option is not asked for.
std::string answer_that_fits(Questions& questions, std::string const& given, std::string const& question,
                             std::string const& otherwise, char const* key) {
    if (!given.empty()) return given;
    for (;;) {
        auto answer = questions.ask(question, otherwise);
        auto const line = "[kitchen]\n" + std::string(key) + " = " + toml_string(answer) + "\n";
        auto const errors = parse_kitchen(line, "kitchen.toml").errors;
        if (errors.empty() || !questions.asks()) return answer;
        questions.say(errors.front().wrong + "; " + errors.front().right);
    }
}

void fill_in(Questions& questions, NewProbe& probe) {
    for (auto& line : probe.lines) {
        auto const open = line.find("\"...\"");
        if (open == std::string::npos) continue;
        auto const key = line.substr(0, line.find(' '));
        auto const help = line.find('#');
        auto const question =
            probe.name + ": " + key + (help == std::string::npos ? "" : ", " + line.substr(help + 2));
        auto answer = questions.ask(question, "");
        while (answer.empty()) {
            questions.say("It cannot be read without it.");
            answer = questions.ask(question, "");
        }
        line = key + " = " + toml_string(answer);
    }
}

void ask_for_vessels(Questions& questions, NewKitchen& kitchen, std::vector<Device> const& devices,
                     std::vector<std::size_t>& used) {
    questions.say("Its vessels, one a line: name, kind (pot, bath, smoker, oven, fridge, hot-box, room)" +
                  std::string(devices.empty() ? "" : ", and the number of its thermometer") +
                  ".\nFor example: stockpot pot" + (devices.empty() ? "" : " 1") +
                  ". An empty line ends them.");
    for (;;) {
        auto const line = questions.ask("vessel", "");
        if (line.empty() && !kitchen.vessels.empty()) return;
        if (line.empty()) {
            questions.say("A kitchen needs one vessel at least.");
            continue;
        }
        try {
            auto vessel = read_vessel(line, devices, used);
            fill_in(questions, vessel.medium);
            kitchen.vessels.push_back(std::move(vessel));
        } catch (Failure const& failure) {
            questions.say(failure.what());
        }
    }
}

void write_new(std::string const& file, std::string const& text) {
    auto* const out = std::fopen(file.c_str(), "wx");
    if (!out) throw Failure(file + " cannot be made; say another name: ingle init FILE", no);
    bool const written = std::fputs(text.c_str(), out) >= 0;
    if (std::fclose(out) != 0 || !written) throw Failure(file + " cannot be written", no);
}

// The file that the service reads (config/system/ingled.service), in whatever root.
bool is_the_services(std::string const& file) {
    return std::filesystem::absolute(file).string().ends_with("/etc/ingle/kitchen.toml");
}

int init(Context& context, Options const& given) {
    std::error_code ignored;
    if (std::filesystem::exists(given.file, ignored))
        throw Failure(given.file + " is there already and stays as it is; say another name: ingle init FILE");
    Questions questions(context.out, given.vessels.empty() && somebody_to_ask());
    if (!questions.asks() && given.vessels.empty())
        throw Failure("there is no terminal to ask in: say the vessels, such as --vessel \"stockpot pot\"",
                      wrong_usage);
    auto const devices = find_devices();
    if (questions.asks() || !devices.empty())
        context.out << (devices.empty()
                            ? "No thermometer was found on this machine: simulated ones stand in.\n"
                            : "Thermometers found on this machine:\n");
    for (std::size_t i = 0; i < devices.size(); ++i)
        context.out << "  " << i + 1 << "  " << devices[i].found.what << "\n";
    NewKitchen kitchen;
    kitchen.name = given.name.empty() ? questions.ask("Name of the kitchen", "kitchen") : given.name;
    kitchen.units = answer_that_fits(questions, given.units, "degF or degC", "degF", "units");
    kitchen.altitude = answer_that_fits(questions, given.altitude,
                                        "How high above the sea (for the boiling point)", "0 m", "altitude");
    std::vector<std::size_t> used;
    for (auto const& text : given.vessels) kitchen.vessels.push_back(read_vessel(text, devices, used));
    if (questions.asks()) ask_for_vessels(questions, kitchen, devices, used);
    for (auto const& vessel : kitchen.vessels)
        if (is_open(vessel.medium.lines))
            throw Failure(
                "the thermometer of " + vessel.name +
                    " needs what only you know (its type or channel): run `ingle init` in a terminal",
                wrong_usage);
    kitchen.phone = given.phone.empty()
                        ? questions.ask("Address that a notice is sent to (empty: none yet)", "")
                        : given.phone;
    for (std::size_t i = 0; i < devices.size(); ++i) {
        if (std::ranges::find(used, i) != used.end()) continue;
        kitchen.found.push_back("[[probe]]");
        kitchen.found.push_back("name = \"...\"          # " + devices[i].found.what);
        for (auto const& line : device_lines(devices[i])) kitchen.found.push_back(line);
    }
    auto const text = first_kitchen(kitchen);
    std::string wrong;
    for (auto const& error : parse_kitchen(text, given.file).errors)
        wrong += (wrong.empty() ? "" : "\n") + error.key + ": " + error.wrong + ", " + error.right;
    if (!wrong.empty()) throw Failure(wrong + "\nnothing was written", wrong_usage);
    write_new(given.file, text);
    if (auto const errors = load_kitchen_for_use(given.file).errors; !errors.empty()) {
        for (auto const& error : errors) wrong += (wrong.empty() ? "" : "\n") + error.text();
        std::filesystem::remove(given.file, ignored);
        throw Failure(wrong + "\nnothing was written", wrong_usage);
    }
    context.out << given.file << " is written. Next:\n  "
                << (is_the_services(given.file) ? "systemctl start ingled" : "ingled --kitchen " + given.file)
                << "\n  ingle now\n";
    // A simmer is an example for a pot only: nobody holds a fridge there.
    if (auto const pot = std::ranges::find(kitchen.vessels, "pot", &NewVessel::kind);
        pot != kitchen.vessels.end())
        context.out << "  ingle hold " << pot->name
                    << (kitchen.units == "degC" ? " 82 to 88 degC" : " 180 to 190 degF")
                    << " --for \"2 h\"\n";
    return done;
}

}  // namespace

void add_init(Verb const& app, Context& context) {
    auto command = app.verb("init", "write a first kitchen file, by a few questions",
                            "  ingle init\n  ingle init kitchen.toml --name \"village hall\" --units degC "
                            "--vessel \"stockpot pot\" --vessel \"fridge fridge\"");
    auto const given = std::make_shared<Options>();
    command.option("FILE", given->file, "the file to write; one that is there is left alone");
    command.option("--name", given->name, "of the kitchen");
    command.option("--units", given->units, "degF or degC");
    command.option("--altitude", given->altitude, "above the sea, such as \"240 m\"");
    command.repeated("--vessel", given->vessels,
                     "name and kind, and the number of its thermometer as `probe list` finds them");
    command.option("--phone", given->phone, "address that notices are posted to");
    command.does([&context, given] { return init(context, *given); });
}

}  // namespace ingle::cli
