// ingle hold: keep a vessel within a band, for a while or until told otherwise.
#include <memory>

#include "config/band_words.hpp"
#include "config/quantity.hpp"
#include "tools/cli/live/past_moment.hpp"
#include "tools/cli/program/client.hpp"

namespace ingle::cli {

void add_hold(Verb const& app, Context& context) {
    auto command = app.verb("hold", "hold a vessel within a band, or stop holding it",
                            "  ingle hold stockpot 180 to 190 degF --for \"2 h\"\n"
                            "  ingle hold stockpot \"82 degC\" \"88 degC\"\n  ingle hold stockpot --off");
    struct Options {
        std::string vessel, length;
        std::vector<std::string> band;
        bool off = false, json = false;
    };
    auto const given = std::make_shared<Options>();
    command.required("VESSEL", given->vessel, "its name in the kitchen file");
    command.words("LOW HIGH", given->band, "both ends, such as 180 to 190 degF, or 180F 190F");
    command.option("--for", given->length, "how long, from when it is there: \"2 h\"; then you are told");
    command.flag("--off", given->off, "stop holding this vessel");
    command.flag("--json", given->json, "answer in JSON");
    command.does([&context, given] {
        Json body{{"vessel", given->vessel}};
        if (given->off) {
            if (!given->band.empty() || !given->length.empty())
                throw Failure("--off goes without a band and without --for", wrong_usage);
            body["band"] = nullptr;
            return Client(context.socket()).command(context, "hold", body, given->json);
        }
        auto const band = read_band(given->band);
        if (!band.wrong.empty()) throw Failure(band.wrong, wrong_usage);
        body["low"] = band.low;
        body["high"] = band.high;
        if (!given->length.empty()) {
            auto const length = parse_duration(given->length);
            if (std::holds_alternative<QuantityError>(length))
                refuse_time_of_day(given->length,
                                   "--for is a length, counted from when it is there, such as \"2 h\"");
            if (auto const* error = std::get_if<QuantityError>(&length))
                throw Failure(error->wrong + "; " + error->right, wrong_usage);
            body["for"] = given->length;
        }
        return Client(context.socket()).command(context, "hold", body, given->json);
    });
}

}  // namespace ingle::cli
