// ingle hold: keep a vessel within a band.
#include <memory>

#include "config/quantity.hpp"
#include "tools/cli/program/client.hpp"

namespace ingle::cli {
namespace {

// A mistake in a quantity is told before the daemon is asked.
void check_temperature(std::string const& text) {
    auto const parsed = parse_temperature(text);
    if (auto const* error = std::get_if<QuantityError>(&parsed)) {
        throw Failure(error->wrong + "; " + error->right, wrong_usage);
    }
}

}  // namespace

void add_hold(Verb const& app, Context& context) {
    auto command = app.verb("hold", "hold a vessel within a band, or stop holding it",
                            "  ingle hold stockpot \"180 degF\" \"190 degF\"\n  ingle hold stockpot --off");
    struct Options {
        std::string vessel, low, high;
        bool off = false, json = false;
    };
    auto const given = std::make_shared<Options>();
    command.required("VESSEL", given->vessel, "its name in the kitchen file");
    command.option("LOW", given->low, "low end, such as \"180 degF\"");
    command.option("HIGH", given->high, "high end, such as \"190 degF\"");
    command.flag("--off", given->off, "stop holding this vessel");
    command.flag("--json", given->json, "answer in JSON");
    command.does([&context, given] {
        Json body{{"vessel", given->vessel}};
        if (given->off) {
            if (!given->low.empty()) throw Failure("--off goes without a band", wrong_usage);
            body["band"] = nullptr;
        } else {
            if (given->high.empty()) {
                throw Failure("say both ends of the band, such as \"180 degF\" \"190 degF\"", wrong_usage);
            }
            check_temperature(given->low);
            check_temperature(given->high);
            body["low"] = given->low;
            body["high"] = given->high;
        }
        return Client(context.socket()).command(context, "hold", body, given->json);
    });
}

}  // namespace ingle::cli
