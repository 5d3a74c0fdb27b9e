#include "tools/cli/replay/replay_source.hpp"

#include <algorithm>
#include <filesystem>
#include <map>

#include "config/did_you_mean.hpp"
#include "daemon/replay/run.hpp"
#include "tools/cli/past/export_rows.hpp"
#include "tools/cli/program/client.hpp"
#include "tools/cli/program/files.hpp"
#include "tools/cli/review/cook_record.hpp"

namespace ingle::cli {
namespace {

class CookSource {
public:
    CookSource(Context const& context, std::string const& logbook, std::string const& what)
        : cook_(find_cook(context, logbook, what)), window_(cook_.book->reader().window_of(cook_.row)) {
        cook_.book->check();
    }

    ReplaySource take(Settings& settings) {
        calibrate(settings);
        read_rows(settings);
        begin_dishes(settings);
        hold_vessels(settings);
        std::ranges::stable_sort(source_.commands, {}, &TimedCommand::after);
        return std::move(source_);
    }

private:
    Span since_start(WallTime at) const {
        auto const start = source_.recording.start.value_or(window_.from);
        return std::max(Span(0), std::chrono::duration_cast<Span>(at - start));
    }

    void calibrate(Settings& settings) {
        for (auto const& row : cook_.book->reader().probes()) {
            int const probe = number_of(settings.probes, row.name);
            if (probe < 0) continue;
            for (auto const& calibration : row.calibrations) {
                if (calibration.since.wall >= window_.to) break;
                auto& points = settings.probes[static_cast<std::size_t>(probe)].calibration;
                points.clear();
                auto const listed = Json::parse(calibration.points, nullptr, false);
                if (!listed.is_array()) continue;
                for (auto const& pair : listed)
                    points.push_back({{pair.at(0).get<double>()}, {pair.at(1).get<double>()}});
            }
        }
        cook_.book->check();
    }

    void read_rows(Settings const& settings) {
        std::vector<std::string> names;
        std::vector<logbook::HistoryQuery> queries;
        for (auto const& probe : settings.probes) {
            names.push_back(probe.name);
            queries.push_back({probe.name, window_, Span{0}, true});
        }
        auto histories = cook_.book->reader().history(queries);
        for (std::size_t i = names.size(); i-- > 0;) {  // what was not read at all is no silence
            if (!histories[i].points.empty() || !histories[i].faults.empty()) continue;
            names.erase(names.begin() + static_cast<std::ptrdiff_t>(i));
            histories.erase(histories.begin() + static_cast<std::ptrdiff_t>(i));
        }
        cook_.book->check();
        if (names.empty()) throw Failure("nothing was recorded of " + cook_.title, no);
        ExportRows rows(names, Scale::celsius, false);
        auto text = rows.header();
        text += rows.piece(histories, {}, {window_.from, window_.to});
        source_.recording = as_kept(parse_recording(text).recording);
    }

    void begin_dishes(Settings const& settings) {
        for (auto const& other : cook_.book->reader().cooks()) {
            bool const meanwhile =
                other.began.wall < window_.to && (!other.ended || other.ended->wall > window_.from);
            int const dish = number_of(settings.dishes, other.dish);
            if (!meanwhile || dish < 0) continue;
            source_.commands.push_back({since_start(other.began.wall), Begin{dish}});
            if (other.ended && other.ended->wall < window_.to)
                source_.commands.push_back({since_start(other.ended->wall), End{dish}});
        }
        cook_.book->check();
    }

    void hold_vessels(Settings const& settings) {
        for (auto const& hold : holds_until_end_of(*cook_.book, window_)) {
            if (hold.by_plan && hold.at >= window_.from) continue;  // the replay comes to it by itself
            if (int const vessel = number_of(settings.vessels, hold.vessel); vessel >= 0)
                source_.commands.push_back({since_start(hold.at), Hold{vessel, hold.band}});
        }
    }

    FoundCook cook_;
    logbook::Window window_;
    ReplaySource source_;
};

}  // namespace

ReplaySource replay_source(Context const& context, std::string const& what, std::string const& logbook,
                           std::vector<std::string> const& begin, Settings& settings) {
    std::error_code ignored;
    bool const file = std::filesystem::exists(what, ignored) || what.ends_with(".csv");
    ReplaySource source;
    if (file)
        source.recording = as_kept(read_recording(what));
    else
        source = CookSource(context, logbook, what).take(settings);
    for (auto const& name : begin) {
        int const dish = number_of(settings.dishes, name);
        if (dish < 0)
            throw Failure("the kitchen file has no dish \"" + name + "\"" +
                              did_you_mean(name, names_of(settings.dishes)),
                          wrong_usage);
        source.commands.insert(source.commands.begin(), {Span(0), Begin{dish}});
    }
    return source;
}

}  // namespace ingle::cli
