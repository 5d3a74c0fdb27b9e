#include "tools/cli/review/cook_record.hpp"

#include <algorithm>
#include <cmath>

#include "config/did_you_mean.hpp"
#include "daemon/food/boiling.hpp"
#include "daemon/food/classes.hpp"
#include "daemon/logbook/cook_places.hpp"
#include "tools/cli/past/imports.hpp"
#include "tools/cli/review/cook_series.hpp"
#include "tools/cli/review/outlooks.hpp"
#include "tools/cli/review/told_forecasts.hpp"

namespace ingle::cli {
namespace {

constexpr int last_does = static_cast<int>(Does::reheat);

double seconds_from(WallTime began, WallTime at) {
    return seconds(at - began);
}

// "goose-roll: poach in stockpot, until ..." names its stage.
std::string stage_name(std::string const& text) {
    auto const colon = text.find(": ");
    if (colon == std::string::npos) return "stage";
    auto const end = text.find_first_of(" ,.", colon + 2);
    return text.substr(colon + 2, end == std::string::npos ? end : end - colon - 2);
}

class Gatherer {
public:
    Gatherer(Book& book, logbook::CookRow const& row, std::string title)
        : book_(book),
          row_(row),
          window_(book.reader().window_of(row)),
          own_(row, window_, book.reader().events(window_, "taken-back")) {
        book.check();
        settings_ = book.settings_of(row);
        record_.title = std::move(title);
    }

    // What its food is judged by: no events, alarms or forecasts.
    CookRecord gather_food() {
        gather_readings();
        return std::move(record_);
    }

    CookRecord gather() {
        gather_readings();
        read_events();
        read_alarms();
        read_outlooks();
        return std::move(record_);
    }

private:
    void gather_readings() {
        about_the_dish();
        read_stages();
        read_holds();
        read_series();
    }

    double since_began(WallTime at) const { return seconds_from(row_.began.wall, at); }

    void about_the_dish() {
        record_.kitchen = settings_.name;
        record_.units = settings_.units;
        record_.cooling_rule = settings_.cooling_rule;
        record_.boiling_c = boiling_point_here(settings_.pressure, settings_.altitude).celsius;
        record_.began = row_.began.wall;
        record_.clock_certain = row_.began.certain;
        record_.length_s = since_began(window_.to - Span(1));
        record_.over = row_.ended.has_value();
        auto const dish = std::ranges::find(settings_.dishes, row_.dish, &DishSettings::name);
        if (dish != settings_.dishes.end()) record_.dish = *dish;
        record_.dish.name = row_.dish;
        if (!row_.food.empty()) record_.dish.food = row_.food;
    }

    int vessel(int number) {  // its place in the record
        if (number < 0 || static_cast<std::size_t>(number) >= settings_.vessels.size()) return -1;
        auto const& settings = settings_.vessels[static_cast<std::size_t>(number)];
        auto const known = std::ranges::find(record_.vessels, settings.name, &CookVessel::name);
        if (known != record_.vessels.end()) return static_cast<int>(known - record_.vessels.begin());
        CookVessel made;
        made.name = settings.name;
        made.kind = settings.kind;
        made.standing = settings.band;
        made.medium.probe = probe_name(settings.medium);
        record_.vessels.push_back(std::move(made));
        return static_cast<int>(record_.vessels.size()) - 1;
    }

    std::string probe_name(int number) const {
        auto const place = static_cast<std::size_t>(number);
        return number >= 0 && place < settings_.probes.size() ? settings_.probes[place].name : std::string();
    }

    bool counts(logbook::EventRow const& event) const { return own_.count(event); }

    void read_stages() {
        for (auto const& event : book_.reader().events(window_, "stage-began")) {
            if (!counts(event)) continue;
            CookStage stage;
            stage.name = stage_name(event.text);
            if (auto const does = number_in(event, "does"); does && *does >= 0 && *does <= last_does)
                stage.does = static_cast<Does>(static_cast<int>(*does));
            stage.vessel = vessel(static_cast<int>(number_in(event, "vessel").value_or(record_.dish.vessel)));
            stage.began = since_began(event.at.wall);
            stage.ended = record_.length_s;
            auto const low = number_in(event, "low_c"), high = number_in(event, "high_c");
            if (low && high) stage.band = Band{{*low}, {*high}};
            record_.planned_stages =
                static_cast<std::size_t>(std::max(0.0, number_in(event, "of").value_or(0)));
            stage.until_core_c = number_in(event, "until_core_c");
            stage.until_s = number_in(event, "until_s");
            stage.until_log10 = number_in(event, "until_log10");
            stage.counts_from_begin = !stage.band || number_in(event, "counts_from_begin").value_or(1) != 0;
            stage.at_least_s = number_in(event, "at_least_s");
            stage.at_most_s = number_in(event, "at_most_s");
            stage.core_most_c = number_in(event, "core_most_c");
            record_.stages.push_back(std::move(stage));
        }
        book_.check();
        auto next = record_.stages.begin();
        for (auto const& event : book_.reader().events(window_, "stage-ended")) {
            if (!counts(event) || next == record_.stages.end()) continue;
            next->ended = since_began(event.at.wall);
            next->over = true;
            next->counted_s = number_in(event, "counted_s");
            next->waits = number_in(event, "waits").value_or(0) != 0;
            next->left_early = number_in(event, "left_open").has_value();
            ++next;
        }
        book_.check();
        if (!record_.stages.empty()) return;
        CookStage all;  // of a cook that was begun before this file
        all.name = "cook";
        all.vessel = vessel(record_.dish.vessel);
        all.ended = record_.length_s;
        all.over = record_.over;
        record_.stages.push_back(std::move(all));
    }

    void read_holds() {
        for (auto const& hold : holds_until_end_of(book_, window_)) {
            auto const known = std::ranges::find(record_.vessels, hold.vessel, &CookVessel::name);
            if (known != record_.vessels.end()) known->changes.push_back({since_began(hold.at), hold.band});
        }
    }

    // What one probe read for a series: a core may have been given another one by the kitchen file.
    struct Stretch {
        CookSeries* series;
        std::string probe;
        logbook::Window window;
    };

    void read_series() {
        auto stretches = core_stretches();
        for (auto& one : record_.vessels)
            if (!one.medium.probe.empty()) stretches.push_back({&one.medium, one.medium.probe, window_});
        std::vector<logbook::HistoryQuery> queries;
        for (auto const& one : stretches) queries.push_back({one.probe, one.window, Span{0}, false});
        auto const histories = book_.reader().history(queries);
        book_.check();
        for (std::size_t i = 0; i < stretches.size(); ++i)
            append(*stretches[i].series, series_of(stretches[i].probe, histories[i], row_.began.wall,
                                                   settings_, record_.lost_time));
        std::ranges::sort(record_.lost_time);
    }

    std::vector<Stretch> core_stretches() {
        auto const with = logbook::CookPlaces(book_.reader(), window_).read_with(row_);
        book_.check();
        std::vector<logbook::Place> places;
        if (with) places = with->cores;
        auto const core = [](logbook::Place const& one) { return one.core; };
        std::ranges::stable_sort(places, {}, core);
        record_.cores.resize(places.empty() ? 0 : static_cast<std::size_t>(places.back().core) + 1);
        std::vector<Stretch> stretches;
        for (auto const& place : places) {
            auto& series = record_.cores[static_cast<std::size_t>(place.core)];
            if (!series.probe.empty()) series.earlier.push_back({series.probe, since_began(place.from.wall)});
            series.probe = place.probe;
            bool const from_begin = place.from.wall <= row_.began.wall;
            bool const to_end = !place.to || (row_.ended && place.to->wall >= row_.ended->wall);
            stretches.push_back(
                {&series,
                 place.probe,
                 {from_begin ? window_.from : place.from.wall, to_end ? window_.to : place.to->wall}});
        }
        return stretches;
    }

    static void append(CookSeries& series, CookSeries stretch) {
        bool const first = series.samples.empty() && series.faults.empty();
        series.every_s = first ? stretch.every_s : std::max(series.every_s, stretch.every_s);
        series.samples.insert(series.samples.end(), stretch.samples.begin(), stretch.samples.end());
        series.faults.insert(series.faults.end(), stretch.faults.begin(), stretch.faults.end());
    }

    bool concerns(std::string const& kind, std::string const& subject) const {
        if (kind == "kitchen" || subject == row_.dish) return true;
        for (auto const& one : record_.vessels)
            if (subject == one.name || subject == one.medium.probe) return true;
        for (auto const& one : record_.cores)
            if (subject == one.probe ||
                std::ranges::find(one.earlier, subject, &EarlierProbe::probe) != one.earlier.end())
                return true;
        return false;
    }

    void read_events() {
        for (auto& event : book_.reader().events(window_)) {
            if (!concerns(event.subject_kind, event.subject)) continue;
            record_.events.push_back({since_began(event.at.wall), event.name, event.subject, event.text,
                                      std::move(event.numbers)});
        }
        book_.check();
    }

    void read_outlooks() {
        record_.outlooks = told_outlooks(book_, row_);
        if (record_.outlooks.empty())
            recompute_outlooks(settings_, record_);
        else
            record_.outlooks_from = "as they were told";
        record_.told_over_all = told_over_all(book_);
    }

    void read_alarms() {
        for (auto& row : book_.reader().alarms(window_)) {
            if (!concerns(row.subject_kind, row.subject)) continue;
            record_.alarms.push_back({since_began(row.at.wall), row.alarm, row.name, row.subject,
                                      row.transition, row.priority, row.text, row.by});
        }
        book_.check();
    }

    Book& book_;
    logbook::CookRow const& row_;
    logbook::Window window_;
    Settings settings_;
    CookRecord record_;
    logbook::OwnEvents own_;
};

}  // namespace

namespace {

// What a cook can be called by: the dishes that were cooked, and the imported recordings.
std::vector<std::string> known_cooks(Context const& context, Book& book) {
    auto known = imports(context);
    for (auto const& cook : book.reader().cooks()) known.push_back(cook.dish);
    return known;
}

}  // namespace

FoundCook find_cook(Context const& context, std::string const& file, std::string const& name) {
    FoundCook found;
    auto const slash = name.find('/');
    auto const import = file.empty() ? import_path(context, name.substr(0, slash)) : std::filesystem::path();
    if (!import.empty()) {
        found.book = std::make_unique<Book>(context, import.string());
        auto const cooks = found.book->reader().cooks();
        found.book->check();
        for (auto const& cook : cooks) {  // newest first: without a dish, the one begun first
            if (slash != std::string::npos && cook.dish != name.substr(slash + 1)) continue;
            found.row = cook;
            found.title = name;
        }
        for (auto const& cook : cooks)
            if (!found.title.empty() && cook.id != found.row.id)
                found.beside.insert(found.beside.begin(), name.substr(0, slash) + "/" + cook.dish);
        if (!found.title.empty()) return found;
        throw Failure("in the imported recording " + name.substr(0, slash) + " no dish was begun" +
                          (slash == std::string::npos ? "" : " that is called " + name.substr(slash + 1)),
                      wrong_usage);
    }
    found.book = std::make_unique<Book>(context, file);
    auto cook = found.book->cook_named(name);
    if (!cook)
        throw Failure("there is no cook \"" + name + "\" in the logbook; `ingle cooks` lists them" +
                          did_you_mean(name, known_cooks(context, *found.book)),
                      wrong_usage);
    found.row = *std::move(cook);
    found.title = found.row.dish + " " + std::to_string(found.row.id);
    return found;
}

CookRecord food_record_of(Book& book, logbook::CookRow const& cook) {
    return Gatherer(book, cook, cook.dish + " " + std::to_string(cook.id)).gather_food();
}

CookRecord record_of(FoundCook& cook) {
    auto record = Gatherer(*cook.book, cook.row, cook.title).gather();
    record.beside = cook.beside;
    record.imported = !cook.book->import_name().empty();
    return record;
}

}  // namespace ingle::cli
