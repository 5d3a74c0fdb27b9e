// Whole commands against a server with a made-up kitchen, and the calculators.
#include <unistd.h>
#include <algorithm>

#include <cstdlib>
#include <filesystem>
#include <fstream>
#include <nlohmann/json.hpp>
#include <sstream>
#include <thread>

#include "daemon/web/server.hpp"
#include "tests/support/catch.hpp"
#include "tests/unit/daemon/web/fake_host.hpp"
#include "tools/cli/program/command.hpp"

using namespace ingle;
namespace asio = boost::asio;

namespace {

struct Result {
    int status = -1;
    std::string out;
    nlohmann::json json() const { return nlohmann::json::parse(out); }
};

Result run(std::filesystem::path const& state, std::vector<std::string> words) {
    words.insert(words.begin(), {"ingle", "--state", state.string()});
    std::vector<char*> argv;
    for (auto& word : words) argv.push_back(word.data());
    std::ostringstream out;
    cli::Context context{state, out};
    int const status = cli::run_program(static_cast<int>(argv.size()), argv.data(), context);
    return {status, out.str()};
}

class Folder {
public:
    Folder() {
        path = std::filesystem::temp_directory_path() / ("ingle-cli-" + std::to_string(getpid()));
        std::filesystem::create_directories(path);
    }
    ~Folder() { std::filesystem::remove_all(path); }
    std::string file(std::string const& name, std::string const& text) const {
        std::ofstream(path / name) << text;
        return (path / name).string();
    }
    std::filesystem::path path;
};

class Daemon {
public:
    explicit Daemon(Folder const& folder) : server_(io_, host, settings(folder)) {
        server_.start();
        thread_ = std::thread([this] { io_.run(); });
    }
    ~Daemon() {
        asio::post(io_, [this] { server_.stop(); });
        thread_.join();
    }
    test::FakeHost host;

private:
    static ServerSettings settings(Folder const& folder) {
        ServerSettings settings;
        settings.socket = (folder.path / "ingled.sock").string();
        return settings;
    }
    asio::io_context io_;
    Server server_;
    std::thread thread_;
};

char const* const kitchen = R"(
[kitchen]
name = "village hall"
units = "degF"
altitude = "240 m"

[[probe]]
name = "stock"
driver = "simulated"
of = "stockpot"

[[vessel]]
name = "stockpot"
kind = "pot"
medium = "stock"
band = ["180 degF", "190 degF"]
)";

}  // namespace

TEST_CASE("now, hold, alarms and the rest, against a daemon") {
    Folder const folder;
    Daemon daemon(folder);
    auto const now = run(folder.path, {"now"});
    CHECK(now.status == 0);
    CHECK_THAT(now.out, INGLE_CONTAINS("village hall, Thu 2026-11-26 14:00:00"));
    CHECK_THAT(now.out, INGLE_CONTAINS("185.0 degF"));
    CHECK_THAT(now.out, INGLE_CONTAINS("180.1 to 189.9 degF"));
    // An old number looks old, and says why there is none now.
    CHECK_THAT(now.out, INGLE_CONTAINS("(198.5 degF)"));
    CHECK_THAT(
        now.out,
        INGLE_CONTAINS(
            "no value: open: the thermocouple wire is broken or unplugged; the last reading is 4 min old"));
    CHECK_THAT(now.out,
               INGLE_CONTAINS("leaves its band in about 12 min (8 min to 20 min): turn down a little"));
    CHECK_THAT(now.out, INGLE_CONTAINS("#12 high  probe-open  smoke  not acknowledged, for 4 min"));
    CHECK_THAT(now.out, INGLE_CONTAINS("silent for another 10 min"));
    CHECK_THAT(now.out, INGLE_CONTAINS("its core is there when: not known (the core has no reading)"));
    CHECK_THAT(now.out, INGLE_CONTAINS("channel phone: HTTP 500"));
    CHECK(now.out.find('\x1b') == std::string::npos);
    CHECK(run(folder.path, {"now", "--json"}).json()["api_version"] == 1);

    auto const hold = run(folder.path, {"hold", "stockpot", "180 degF", "190 degF"});
    CHECK(hold.status == 0);
    CHECK(hold.out == "done as told\n");
    REQUIRE(daemon.host.commands.size() == 1);
    CHECK_THAT(std::get<Hold>(daemon.host.commands[0]).band->low.celsius, WithinAbs(82.2222, 1e-3));
    CHECK(run(folder.path, {"hold", "stockpot", "180", "190"}).status == 2);
    CHECK(run(folder.path, {"hold", "stockpot"}).status == 2);
    CHECK(run(folder.path, {"hold", "kettle", "180 degF", "190 degF"}).status == 2);
    CHECK(run(folder.path, {"hold", "smoker", "--off"}).status == 0);
    CHECK_FALSE(std::get<Hold>(daemon.host.commands[1]).band);

    CHECK(run(folder.path, {"begin", "goose-roll"}).status == 0);
    CHECK(run(folder.path, {"next", "goose-roll"}).status == 1);
    CHECK(run(folder.path, {"end", "goose-roll"}).status == 0);
    CHECK(run(folder.path, {"note", "--about", "smoker", "vent", "open"}).status == 0);
    CHECK(std::get<Note>(daemon.host.commands.back()).text == "vent open");
    CHECK(run(folder.path, {"ack", "smoke", "--by", "anna"}).status == 0);
    CHECK(std::get<Acknowledge>(daemon.host.commands.back()).alarm == 12);
    CHECK(run(folder.path, {"ack"}).status == 0);
    CHECK_FALSE(std::get<Acknowledge>(daemon.host.commands.back()).alarm);
    CHECK(run(folder.path, {"ack", "99"}).status == 1);
    CHECK(run(folder.path, {"shelve", "#11", "20 min"}).status == 0);
    CHECK(std::get<Shelve>(daemon.host.commands.back()).length == Span(1'200'000));
    CHECK(run(folder.path, {"shelve", "leaving-band", "--off"}).status == 0);
    CHECK(std::get<Shelve>(daemon.host.commands.back()).length == Span(0));
    CHECK_THAT(run(folder.path, {"alarms"}).out, INGLE_CONTAINS("#11 low  leaving-band  stockpot  shelved"));
    CHECK(run(folder.path, {"alarms", "--json"}).json()["alarms"].size() == 2);

    auto const list = run(folder.path, {"probe", "list"}).out;
    CHECK_THAT(list, INGLE_CONTAINS("no device at /dev/ttyUSB0"));
    CHECK_THAT(list, INGLE_CONTAINS("drivers in this build"));
    CHECK_THAT(run(folder.path, {"probe", "read", "stock"}).out,
               INGLE_CONTAINS("185.0 degF = 85.0 degC, good, 1 s old"));
    auto const stock = run(folder.path, {"probe", "read", "stock"}).out;
    CHECK_THAT(stock, INGLE_CONTAINS("raw word: 0x05581900"));
    CHECK_THAT(stock, INGLE_CONTAINS("cold junction: 77.0 degF = 25.0 degC"));
    CHECK_THAT(stock, INGLE_CONTAINS("calibrated: reads 32.90 degF where it is 32.00 degF"));
    auto const smoke = run(folder.path, {"probe", "read", "smoke"});
    CHECK(smoke.status == 1);
    CHECK_THAT(smoke.out, INGLE_CONTAINS("no value: open"));
    CHECK_THAT(smoke.out, INGLE_CONTAINS("the last good one was 198.5 degF"));
    CHECK(run(folder.path, {"probe", "read", "no-such"}).status == 2);
    CHECK(run(folder.path, {"probe", "test"}).status == 1);
    CHECK(run(folder.path, {"probe", "test", "no-such"}).status == 2);
}

TEST_CASE("wrong usage is 2, no daemon is 1, help has an example") {
    Folder const folder;
    CHECK(run(folder.path, {"now"}).status == 1);
    CHECK(run(folder.path, {"history"}).status == 1);
    CHECK(run(folder.path, {}).status == 2);
    CHECK(run(folder.path, {"boil"}).status == 2);
    CHECK(run(folder.path, {"hold"}).status == 2);
    CHECK(run(folder.path, {"doctor"}).status == 1);
    CHECK(run(folder.path, {"check", "/nowhere.toml"}).status == 2);
    CHECK(run(folder.path, {"replay", "/nowhere.csv", "--kitchen", "/nowhere.toml"}).status == 2);
}

TEST_CASE("calculators") {
    Folder const folder;
    auto const calc = [&](std::vector<std::string> words) {
        words.insert(words.begin(), "calc");
        words.push_back("--json");
        return run(folder.path, words);
    };
    // IEC 60584-1 reference tables: type K, 100 degC is 4.096 mV.
    CHECK_THAT(calc({"emf", "--type", "K", "--celsius", "100"}).json()["millivolts"].get<double>(),
               WithinAbs(4.096, 0.0005));
    CHECK_THAT(calc({"temperature", "--type", "k", "--millivolts", "4.096"}).json()["celsius"].get<double>(),
               WithinAbs(100, 0.02));
    // 1.000 mV is 25 degC at the terminals, so 3.096 mV more are 100 degC.
    CHECK_THAT(calc({"temperature", "--type", "K", "--millivolts", "3.096", "--cold-junction", "25 degC"})
                   .json()["celsius"]
                   .get<double>(),
               WithinAbs(100, 0.05));
    CHECK(calc({"emf", "--type", "K", "--celsius", "2000"}).status == 1);
    CHECK_THAT(calc({"emf", "--type", "K", "--at", "212 degF"}).json()["millivolts"].get<double>(),
               WithinAbs(4.096, 1e-3));  // NIST ITS-90 table, type K at 100 degC
    CHECK(calc({"emf", "--type", "K"}).status == 2);
    CHECK(calc({"emf", "--type", "X", "--celsius", "20"}).status == 2);
    CHECK(calc({"emf", "--type", "K", "--celsius", "1e"}).status == 2);
    // Data sheet 19-5793, table 4: +1600 degC is 0x6400 in the upper 14 bits.
    CHECK_THAT(calc({"word", "--chip", "max31855", "06400190"}).json()["celsius"].get<double>(),
               WithinAbs(100, 1e-9));
    auto const open = calc({"word", "--chip", "max31855", "00011901"}).json();
    CHECK(open["celsius"].is_null());
    CHECK(open["fault"] == "open");
    CHECK(calc({"word", "--chip", "max31855", "123"}).status == 2);
    CHECK(calc({"word", "--chip", "max1", "1234"}).status == 2);
    // IAPWS R7-97, table 35: 0.1 MPa boils at 372.755919 K.
    CHECK_THAT(calc({"boiling-point", "--pressure", "1000 hPa"}).json()["celsius"].get<double>(),
               WithinAbs(372.755919 - 273.15, 1e-4));
    CHECK(calc({"boiling-point"}).status == 2);
    CHECK(calc({"boiling-point", "--altitude", "240"}).status == 2);

    // 292 g of table salt (USDA National Nutrient Database) in 3785.4 g of water: 7.16 %, 27.1 degrees.
    auto const brine = calc({"brine", "--water", "1 gal", "--salt", "1 cup", "--meat", "4 lb"}).json();
    CHECK_THAT(brine["salt"].get<double>(), WithinAbs(0.0716, 0.00005));
    CHECK_THAT(brine["salometer"].get<double>(), WithinAbs(27.1, 0.05));
    CHECK(brine["salt_in_all"].get<double>() < brine["salt"].get<double>());
    CHECK_THAT(calc({"brine", "--water", "4 l", "--salt", "200 g"}).json()["salt"].get<double>(),
               WithinAbs(200.0 / 4200, 1e-9));
    CHECK(calc({"brine", "--water", "1 gal", "--salt", "1 fistful"}).status == 2);
    auto const salt = [&](char const* amount) {
        return calc({"brine", "--water", "2 qt", "--salt", amount}).json()["salt_g"].get<double>();
    };
    CHECK_THAT(salt("1/2 cup"), WithinAbs(146, 1e-6));
    CHECK_THAT(salt("1 1/2 tbsp"), WithinAbs(27, 1e-6));
    CHECK_THAT(calc({"brine", "--water", "2 qt", "--salt", "100 g"}).json()["water_g"].get<double>(),
               WithinAbs(1892.7, 0.1));  // half a US gallon
    CHECK(calc({"brine", "--water", "1 gal", "--salt", "1/0 cup"}).status == 2);
    std::vector<std::string> const roll{"cook-time", "--food",      "ground-poultry", "--shape",
                                        "cylinder",  "--thickness", "9 cm",           "--start",
                                        "40 degF",   "--medium",    "185 degF"};
    auto const time = calc(roll).json();
    CHECK(time["low_s"].get<double>() < time["seconds"].get<double>());
    CHECK(time["seconds"].get<double>() < time["high_s"].get<double>());
    CHECK(time["around"] == "liquid");
    auto smoked = roll;
    smoked.insert(smoked.end(), {"--around", "smoker"});
    auto const in_smoke = calc(smoked).json();
    CHECK(in_smoke["seconds"] == time["in_a_smoker"]["seconds"]);
    CHECK(in_smoke["seconds"].get<double>() > 2 * time["seconds"].get<double>());
    CHECK(in_smoke.find("in_a_smoker") == in_smoke.end());
    smoked.back() = "cellar";
    CHECK(calc(smoked).status == 2);
    auto by_mass = roll;
    by_mass[5] = "--mass", by_mass[6] = "4 lb", by_mass.back() = "325 degF";
    auto const roasted = calc(by_mass).json();
    CHECK(roasted["around"] == "oven");
    CHECK(roasted["high_s"].get<double>() > 2 * roasted["low_s"].get<double>());
    by_mass.erase(by_mass.begin() + 5, by_mass.begin() + 7);
    CHECK(calc(by_mass).status == 2);
    auto colder = roll;
    colder.back() = "150 degF";  // never brings a core to 165 degF
    CHECK(calc(colder).status == 1);
    CHECK(calc(colder).json()["seconds"].is_null());

    std::string csv = "time,core [degC]\n";
    for (int s = 0; s <= 10800; s += 60)
        csv += std::to_string(s) + "," + std::to_string(std::min(20 + s / 120, 75)) + "\n";
    auto const file = folder.file("core.csv", csv);
    auto const lethality = calc({"lethality", file, "--probe", "core", "--food", "ground-poultry"});
    CHECK(lethality.status == 0);
    CHECK(lethality.json()["log10"].get<double>() == 7);  // the printed row
    CHECK_FALSE(lethality.json()["source"].get<std::string>().empty());
    CHECK(calc({"lethality", file, "--probe", "core", "--food", "dragon"}).status == 2);
    CHECK(calc({"lethality", file, "--probe", "ham", "--food", "stock"}).status == 2);
    CHECK(calc({"cooling", file, "--probe", "core"}).json()["cooling"].is_string());
}

TEST_CASE("check echoes both units, and lists every mistake") {
    Folder const folder;
    auto const good = run(folder.path, {"check", folder.file("kitchen.toml", kitchen)});
    CHECK_THAT(good.out, INGLE_CONTAINS("180 to 190 degF = 82.2 to 87.8 degC"));
    CHECK(good.status == 0);
    auto bad = std::string(kitchen) +
               "\n[[vessel]]\nname = \"tub\"\nkind = \"bathtub\"\nband = [1, 2]\n[[probe]]\nname = "
               "\"x\"\ndriver = \"magic\"\n";
    auto const wrong = run(folder.path, {"check", folder.file("bad.toml", bad), "--json"});
    CHECK(wrong.status == 2);
    CHECK(wrong.json()["right"] == false);
    CHECK(wrong.json()["errors"].size() >= 3);
    // What only a channel or this machine knows is told too: the daemon would not start.
    auto const unknown =
        run(folder.path,
            {"check", folder.file("zone.toml", std::string("[kitchen]\nzone = \"Europe/Nowhere\"\n") +
                                                   "[[channel]]\nname = \"phone\"\nkind = "
                                                   "\"webhook\"\nulr = \"http://127.0.0.1/\"\n")});
    CHECK(unknown.status == 2);
    CHECK_THAT(unknown.out,
               INGLE_CONTAINS("zone.toml:2:8: kitchen.zone: is \"Europe/Nowhere\", and this machine"));
    CHECK_THAT(unknown.out, INGLE_CONTAINS("channel.phone.ulr: unknown key, did you mean \"url\"?"));
    CHECK_THAT(unknown.out, INGLE_CONTAINS("channel.phone.url: is missing"));
    auto const endless = "[kitchen]\nzone = \"" + std::string(300, 'a') + "\"\n";
    CHECK_THAT(run(folder.path, {"check", folder.file("endless.toml", endless)}).out,
               INGLE_CONTAINS("knows no such time zone"));
}

TEST_CASE("replay: an alarm that worsens is printed anew, with what it says then") {
    Folder const folder;
    auto const file = folder.file("kitchen.toml", R"(
[kitchen]
[[probe]]
name = "core"
driver = "simulated"
of = "goose-core"
[[vessel]]
name = "counter"
kind = "room"
[[dish]]
name = "roll"
vessel = "counter"
core = "core"
food = "ground-poultry"
)");
    std::string csv = "time,core [degC]\n";  // heated through, then left to stand until its limit is missed
    for (int s = 0; s <= 6 * 3600; s += 30) {
        double const hours = s / 3600.0;
        csv += std::to_string(s) + "," + std::to_string(hours < 2 ? 4 + 38 * hours : 80 - 12 * (hours - 2)) +
               "\n";
    }
    auto const out =
        run(folder.path, {"replay", folder.file("roll.csv", csv), "--kitchen", file, "--begin", "roll"}).out;
    auto const warned = out.find("medium alarm  cooling-late"), missed = out.find("high alarm  cooling-late");
    REQUIRE(warned != std::string::npos);
    REQUIRE(missed != std::string::npos);
    CHECK(warned < missed);
    CHECK_THAT(out.substr(missed), INGLE_CONTAINS("A cooling limit was missed"));
}

TEST_CASE("replay: JSON lines in time order, a summary last, the same bytes twice") {
    Folder const folder;
    auto const file = folder.file("kitchen.toml", kitchen);
    std::string csv = "time,stock [degF],other [degC],note\n";
    for (int s = 0; s <= 3600; ++s) {
        csv += std::to_string(s) + "," + std::to_string(std::clamp(185 + (s - 1800) / 40, 185, 200)) + ",1," +
               (s == 60 ? "lid on" : "") + "\n";
    }
    auto const recording = folder.file("pot.csv", csv);
    auto const once = run(folder.path, {"replay", recording, "--kitchen", file, "--json"});
    REQUIRE(once.status == 0);
    std::istringstream lines(once.out);
    std::vector<nlohmann::json> all;
    for (std::string line; std::getline(lines, line);) all.push_back(nlohmann::json::parse(line));
    REQUIRE(all.size() > 2);
    double last = -1;
    bool above = false, note = false;
    for (auto const& line : all) {
        CHECK(line["t"].get<double>() >= last);
        last = line["t"].get<double>();
        above =
            above || (line["kind"] == "alarm" && line["alarm"] == "above-band" && line["state"] == "raised");
        note = note || (line["kind"] == "event" && line["event"] == "note");
    }
    CHECK(above);
    CHECK(note);
    CHECK(all.back()["kind"] == "summary");
    CHECK(all.back()["vessels"]["stockpot"]["in_s"].get<double>() > 1700);
    CHECK(run(folder.path, {"replay", recording, "--kitchen", file, "--json"}).out == once.out);
    auto const other = run(
        folder.path, {"replay", recording, "--kitchen", file, "--set", "stockpot.band=180 degF to 205 degF"});
    CHECK(other.status == 0);
    CHECK_THAT(other.out, INGLE_CONTAINS("with the change"));
    CHECK(run(folder.path, {"replay", recording, "--kitchen", file, "--set", "stockpot.band=2"}).status == 2);
    CHECK(run(folder.path, {"replay", recording, "--kitchen", file, "--begin", "pie"}).status == 2);
}
