// The truth of the harvest supper: the hall of tests/suppers behind a serial line, with a boar ham that comes
// out of the freezer. It moves the daemon's clocks (quick_clock.hpp) in steps of ten seconds, says a line of
// temperatures after each, and goes on when the daemon has dealt with it.
//
//     supper_hall CLOCK-FILE MASTER-FD SEED
//
// On its input orders, a line each, answered by a line of JSON; what is true is all in degC:
//     clock BOOT-S WALL-S | hear yes|no | advance SECONDS | put DISH VESSEL|none | door open|shut | fire
//     out|lit
#include <fcntl.h>
#include <sys/mman.h>
#include <unistd.h>

#include <algorithm>
#include <array>
#include <chrono>
#include <cmath>
#include <cstdio>
#include <iostream>
#include <sstream>
#include <stdexcept>
#include <string>
#include <thread>

#include "tests/suppers/hall.hpp"
#include "tests/system/quick_clock.hpp"

namespace {

using namespace ingle::suppers;
using ingle::quick_clock::second_ns;

constexpr int step_s = 10;
constexpr auto patience = std::chrono::seconds(60);
constexpr char const* dish_names[dishes] = {"ham", "roll", "terrine", "stock", "pie"};
constexpr char const* vessel_names[vessels] = {"tub",  "smoker", "hot-box", "pot",
                                               "bath", "kettle", "oven",    "fridge"};

template <std::size_t N>
int number_of(char const* const (&names)[N], std::string const& name) {
    for (std::size_t i = 0; i < N; ++i)
        if (name == names[i]) return static_cast<int>(i);
    throw std::runtime_error("there is no " + name);
}

// A frozen ball that thaws from its surface inwards: the heat in each shell, with what ice takes to melt
// spread from -4 to -1 degC. Round figures for lean meat.
class Frozen {
public:
    Frozen(double radius_m, double celsius) : dr_(radius_m / shells) {
        for (auto& heat : heat_) heat = heat_at(celsius);
    }
    double centre() const { return celsius_at(heat_[0]); }
    void step(double seconds, double air, double h) {
        for (double left = seconds; left > 0; left -= part_s) small_step(std::min(left, part_s), air, h);
    }

private:
    static constexpr int shells = 14;
    static constexpr double part_s = 2, solid = 1.9e6, liquid = 3.6e6, melting = 235e6;  // J/(m3 K), J/m3
    static constexpr double from = -4, to = -1;                                          // degC
    static double heat_at(double c) { return solid * (c - from); }
    static double celsius_at(double heat) {
        if (heat <= 0) return from + heat / solid;
        return heat < melting ? from + (to - from) * heat / melting : to + (heat - melting) / liquid;
    }
    static double conductivity(double c) { return c < from ? 1.3 : c > to ? 0.48 : 0.9; }
    void small_step(double dt, double air, double h) {
        double inner = 0;  // W through the face below, per 4 pi
        for (std::size_t i = 0; i < shells; ++i) {
            double const r = (static_cast<double>(i) + 1) * dr_, here = celsius_at(heat_[i]);
            double const k = conductivity(here);
            double const outer = i + 1 < shells ? k * (here - celsius_at(heat_[i + 1])) / dr_ * r * r
                                                : (here - air) / (1 / h + dr_ / 2 / k) * r * r;
            double const below = r - dr_, volume = (r * r * r - below * below * below) / 3;
            heat_[i] += dt * (inner - outer) / volume;
            inner = outer;
        }
    }
    double dr_;
    std::array<double, shells> heat_{};
};

Body body(int geometry, double radius_m, double target_c, double h_hot) {
    Body made;
    made.food.geometry = geometry, made.food.radius_m = radius_m, made.food.start_c = 3;
    made.cold.h_convection = 8, made.cold.emissivity = 0.9;
    made.hot.h_convection = h_hot;
    made.target_c = target_c;
    return made;
}

std::array<Body, 3> bodies() {
    auto ham = body(2, 0.05, 71, 11);
    ham.hot.emissivity = 0.85, ham.hot.wetness = 0.15, ham.hot.dew_point_c = 35;
    return {ham, body(1, 0.04, 74, 350), body(1, 0.03, 71, 350)};
}

class Play {
public:
    Play(char const* clock_file, int master, std::uint64_t seed)
        : master_(master), hall_(seed, Heat{102, 85, 77, 1.2}, bodies()) {
        int const fd = open(clock_file, O_RDWR | O_CLOEXEC);
        void* const at =
            fd < 0 ? MAP_FAILED : mmap(nullptr, sizeof(*page_), PROT_READ | PROT_WRITE, MAP_SHARED, fd, 0);
        if (at == MAP_FAILED) throw std::runtime_error(std::string("cannot map ") + clock_file);
        page_ = static_cast<ingle::quick_clock::Page*>(at);
        hall_.nothing_happens();
        hall_.put(ham, fridge), hall_.put(roll, fridge), hall_.put(terrine, fridge);
    }

    void obey(std::string const& line) {
        std::istringstream words(line);
        std::string what, first, second;
        words >> what >> first >> second;
        if (what == "clock")
            page_->boot_ns = std::stoll(first) * second_ns, page_->wall_ns = std::stoll(second) * second_ns;
        else if (what == "hear")
            heard_ = first == "yes";
        else if (what == "advance")
            for (int left = std::stoi(first); left > 0; left -= step_s) step();
        else if (what == "put")
            put(static_cast<Dish>(number_of(dish_names, first)), second);
        else if (what == "door")
            hall_.open_door(first == "open");
        else if (what == "fire")
            hall_.put_out_fire(first == "out");
        else
            throw std::runtime_error("cannot obey: " + line);
        answer();
    }

private:
    void put(Dish dish, std::string const& where) {
        std::optional<Vessel> into;
        if (where != "none") into = static_cast<Vessel>(number_of(vessel_names, where));
        if (dish == ham && into == smoker) thawed_ = true;  // as cold as the tub by now, as the hall has it
        hall_.put(dish, into);
        if (dish == ham) ham_in_tub_ = into == tub;
    }
    double core(Dish dish) const { return dish == ham && !thawed_ ? frozen_.centre() : hall_.core(dish); }

    void step() {
        for (int s = 0; s < step_s; ++s) hall_.step();
        if (!thawed_)
            frozen_.step(step_s, hall_.air_or_liquid(ham_in_tub_ ? tub : fridge), ham_in_tub_ ? 200 : 14);
        page_->boot_ns += step_s * second_ns, page_->wall_ns += step_s * second_ns;
        if (!heard_) return;
        std::string line;
        for (int p = 0; p < probes; ++p) {
            auto const probe = static_cast<Probe>(p);
            double const shown = hall_.shown(probe);
            char text[16];
            std::snprintf(text, sizeof text, "%s%.1f", p == 0 ? "" : ",",
                          probe == ham_core && !thawed_ ? frozen_.centre() : shown);
            line += text;
        }
        line += "\n";
        auto const before = page_->bytes_heard.load();
        if (write(master_, line.data(), line.size()) != static_cast<ssize_t>(line.size()))
            throw std::runtime_error("the line takes no more");
        wait_until([&] { return page_->bytes_heard - before >= static_cast<std::int64_t>(line.size()); });
        auto const move = ++page_->moves;
        wait_until([&] { return page_->dealt_with >= move; });
    }
    template <typename Condition>
    static void wait_until(Condition condition) {
        auto const began = std::chrono::steady_clock::now();
        while (!condition()) {
            std::this_thread::sleep_for(std::chrono::microseconds(30));
            if (std::chrono::steady_clock::now() - began > patience)
                throw std::runtime_error("the daemon does not follow");
        }
    }

    void answer() const {
        std::printf("{\"wall\": %lld, \"core\": {", static_cast<long long>(page_->wall_ns / second_ns));
        for (auto const dish : {ham, roll, terrine})
            std::printf("%s\"%s\": %.3f", dish == ham ? "" : ", ", dish_names[dish], core(dish));
        std::printf("}, \"vessel\": {");
        for (int v = 0; v < vessels; ++v)
            std::printf("%s\"%s\": %.3f", v == 0 ? "" : ", ", vessel_names[v],
                        hall_.air_or_liquid(static_cast<Vessel>(v)));
        std::printf("}}\n");
        std::fflush(stdout);
    }

    ingle::quick_clock::Page* page_ = nullptr;
    int master_;
    Hall hall_;
    Frozen frozen_{0.05, -18};
    bool thawed_ = false, ham_in_tub_ = false, heard_ = false;
};

}  // namespace

int main(int argc, char* argv[]) {
    if (argc != 4) return std::fprintf(stderr, "usage: supper_hall CLOCK-FILE MASTER-FD SEED\n"), 2;
    try {
        Play play(argv[1], std::atoi(argv[2]), std::strtoull(argv[3], nullptr, 10));
        for (std::string line; std::getline(std::cin, line);) play.obey(line);
    } catch (std::exception const& error) {
        std::fprintf(stderr, "supper_hall: %s\n", error.what());
        return 1;
    }
}
