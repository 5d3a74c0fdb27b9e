#include "tools/cli/past/book.hpp"

#include <algorithm>
#include <charconv>
#include <chrono>
#include <map>

#include "config/did_you_mean.hpp"
#include "config/load.hpp"
#include "tools/cli/past/imports.hpp"
#include "tools/cli/program/client.hpp"
#include "tools/cli/time/local_time.hpp"

namespace ingle::cli {
namespace {

constexpr auto hold_lookback = std::chrono::hours(24 * 7);

std::string path_of(Context const& context, std::string const& file) {
    std::filesystem::path const path = file.empty() ? context.logbook() : std::filesystem::path(file);
    if (file.empty()) {
        try {
            Client(context.socket()).post("/api/commit", Json::object());
        } catch (Failure const&) {  // no daemon, or one with trouble: what is on disk is what there is
        }
    }
    std::error_code ignored;
    if (!std::filesystem::exists(path, ignored)) {
        throw Failure("there is no logbook at " + path.string() +
                      "; say where the daemon keeps its state with --state, or name the file with --logbook");
    }
    return path.string();
}

std::optional<std::int64_t> whole_number(std::string_view text) {
    std::int64_t value = 0;
    auto const [end, error] = std::from_chars(text.data(), text.data() + text.size(), value);
    if (error != std::errc{} || end != text.data() + text.size()) return {};
    return value;
}

void add_once(std::vector<std::string>& names, std::string const& name) {
    if (std::ranges::find(names, name) == names.end()) names.push_back(name);
}

void add_probe(std::vector<std::string>& names, Settings const& settings, int probe) {
    auto const place = static_cast<std::size_t>(probe);
    if (probe >= 0 && place < settings.probes.size()) add_once(names, settings.probes[place].name);
}

void add_vessel(std::vector<std::string>& names, Settings const& settings, int vessel) {
    auto const place = static_cast<std::size_t>(vessel);
    if (vessel < 0 || place >= settings.vessels.size()) return;
    add_probe(names, settings, settings.vessels[place].medium);
    for (int const probe : settings.vessels[place].more) add_probe(names, settings, probe);
}

// Does this word name something? Then its probes are chosen.
bool choose(Selection& selection, std::vector<logbook::ProbeRow> const& probes, std::string const& word) {
    auto const& settings = selection.settings;
    if (std::ranges::find(probes, word, &logbook::ProbeRow::name) != probes.end()) {
        add_once(selection.probes, word);
        add_once(selection.subjects, word);
        for (auto const& vessel : settings.vessels)  // whose band is watched by it
            if (vessel.medium >= 0 && settings.probes[static_cast<std::size_t>(vessel.medium)].name == word)
                add_once(selection.subjects, vessel.name);
        return true;
    }
    auto const vessel = std::ranges::find(settings.vessels, word, &VesselSettings::name);
    if (vessel != settings.vessels.end()) {
        int const number = static_cast<int>(vessel - settings.vessels.begin());
        add_vessel(selection.probes, settings, number);
        add_vessel(selection.subjects, settings, number);
        add_once(selection.subjects, word);
        return true;
    }
    return false;
}

// One that goes on, though another may have been begun after it; else the newest. `cooks`: newest first.
logbook::CookRow const* latest_cook(std::vector<logbook::CookRow> const& cooks, std::string const& dish) {
    logbook::CookRow const* latest = nullptr;
    for (auto const& cook : cooks) {
        if (cook.dish != dish || cook.taken_back) continue;
        if (!cook.ended) return &cook;
        if (!latest) latest = &cook;
    }
    return latest;
}

}  // namespace

WallTime wall_now() {
    return std::chrono::floor<std::chrono::milliseconds>(std::chrono::system_clock::now());
}

std::vector<RecordedHold> holds_until_end_of(Book& book, logbook::Window window) {
    std::vector<RecordedHold> holds;
    for (auto const& event : book.reader().events({window.from - hold_lookback, window.to}, "note")) {
        if (event.subject_kind != "vessel") continue;
        auto const low = number_in(event, "low_c"), high = number_in(event, "high_c");
        if (low && high)
            holds.push_back({event.subject, event.at.wall, Band{{*low}, {*high}}, false});
        else if (number_in(event, "held"))
            holds.push_back(
                {event.subject, event.at.wall, std::nullopt, number_in(event, "by_plan").has_value()});
    }
    book.check();
    return holds;
}

Book::Book(Context const& context, std::string const& file) : reader_(path_of(context, file)) {
    check();
    tell_times_in(settings_at(wall_now()).zone);
    std::filesystem::path const path(file);
    if (path.parent_path() == import_folder(context)) import_name_ = path.stem().string();
}

std::string Book::file_for(Context const& context, std::string const& file,
                           std::vector<std::string> const& words) {
    if (!file.empty()) return file;
    for (auto const& word : words)
        if (auto const path = import_path(context, word); !path.empty()) return path.string();
    return "";
}

void Book::check() const {
    if (!reader_.failure().empty()) throw Failure(reader_.failure());
}

Settings Book::settings_at(WallTime when) {
    return logbook::settings_at(reader_, when);
}

Settings Book::settings_of(logbook::CookRow const& cook) {
    return logbook::CookPlaces(reader_, {}).settings_of(cook);
}

std::optional<logbook::CookRow> Book::cook_named(std::string const& text) {
    auto const space = text.rfind(' ');
    auto const number = whole_number(space == std::string::npos ? std::string_view(text)
                                                                : std::string_view(text).substr(space + 1));
    auto const name = number ? text.substr(0, space == std::string::npos ? 0 : space) : text;
    auto const cooks = reader_.cooks();
    check();
    if (!number) {
        auto const* latest = latest_cook(cooks, text);
        return latest ? std::optional(*latest) : std::nullopt;
    }
    for (auto const& cook : cooks)
        if (cook.id == *number && (name.empty() || name == "cook" || name == cook.dish)) return cook;
    return std::nullopt;
}

std::vector<std::string> Book::names() {
    auto const settings = settings_at(wall_now());
    auto all = names_of(settings.vessels);
    for (auto const& more : {names_of(settings.dishes), names_of(settings.probes)})
        all.insert(all.end(), more.begin(), more.end());
    return all;
}

std::string Book::listed_names() {
    std::string all;
    for (auto const& name : names()) all += (all.empty() ? "" : ", ") + name;
    return all.empty() ? "none yet" : all;
}

WallSpan Book::span_of(std::string const& text, WallTime now) {
    auto result = parse_span(text, now);
    if (result.span) return *result.span;
    auto const cook = cook_named(text);
    auto const dishes = settings_at(now).dishes;
    if (!cook && std::ranges::find(dishes, text, &DishSettings::name) != dishes.end())
        throw Failure(text + " has not been cooked yet");
    if (!cook && result.understood) throw Failure(result.wrong, wrong_usage);
    if (!cook)
        throw Failure(result.wrong + ". No probe, vessel, dish or cook is called so: there are " +
                          listed_names() + "; `ingle cooks` lists the cooks" + did_you_mean(text, names()),
                      wrong_usage);
    auto const window = reader_.window_of(*cook);
    check();
    return {window.from, window.to};
}

bool Selection::concerns(std::string const& kind, std::string const& subject, std::string const& text) const {
    if (subjects.empty() || subject.empty() || kind == "kitchen") return true;
    if (std::ranges::find(subjects, subject) != subjects.end()) return true;
    // A dish belongs to what happened in a vessel where the words on it say that it is there.
    return kind == "dish" && std::ranges::any_of(subjects, [&](std::string const& asked) {
               auto const place = "in " + asked;
               auto const at = text.find(place);
               if (at == std::string::npos) return false;
               auto const after = text.substr(at + place.size(), 1);
               return after.empty() || after.find_first_of(" ,.;:") == 0;
           });
}

Selection select(Book& book, std::vector<std::string> const& words, std::string const& otherwise) {
    Selection selection;
    auto const now = wall_now();
    selection.settings = book.settings_at(now);
    auto const probes = book.reader().probes();
    book.check();
    auto const cooks = book.reader().cooks();
    std::string dish;
    for (auto const& given : words) {
        // An imported recording goes by its own name; inside, it is the cook of a dish.
        bool const whole = !book.import_name().empty() && given == book.import_name() && !cooks.empty();
        auto const& word = whole ? cooks.back().dish : given;
        if (choose(selection, probes, word)) continue;
        // A dish's name chooses its probes and, where nothing else is said, its latest cook.
        if (auto const* cook = latest_cook(cooks, word)) {
            dish = word;
            add_once(selection.subjects, word);
            auto const settings = book.settings_of(*cook);
            auto const found = std::ranges::find(settings.dishes, word, &DishSettings::name);
            if (found != settings.dishes.end()) {
                for (auto* names : {&selection.probes, &selection.subjects}) {
                    add_probe(*names, settings, found->core);
                    add_vessel(*names, settings, found->vessel);
                }
                auto const vessel = static_cast<std::size_t>(found->vessel);
                if (found->vessel >= 0 && vessel < settings.vessels.size())
                    add_once(selection.subjects, settings.vessels[vessel].name);
            }
            continue;
        }
        selection.span_text += (selection.span_text.empty() ? "" : " ") + word;
    }
    if (!dish.empty()) {
        // "goose-roll 12": the number belongs to the dish.
        selection.span_text = selection.span_text.empty() || whole_number(selection.span_text)
                                  ? dish + (selection.span_text.empty() ? "" : " " + selection.span_text)
                                  : selection.span_text;
    }
    if (selection.span_text.empty()) selection.span_text = otherwise;
    selection.span = book.span_of(selection.span_text, now);
    selection.whole_cook = !parse_span(selection.span_text, now).span;
    if (selection.probes.empty()) {
        for (auto const& probe : probes) add_once(selection.probes, probe.name);
    }
    return selection;
}

void recalculate(Book& book, std::vector<std::string> const& probes,
                 std::vector<logbook::History>& histories) {
    std::map<std::string, logbook::CalibrationRow> newest;  // of probes of one name, the last one's
    for (auto const& row : book.reader().probes())
        if (!row.calibrations.empty()) newest[row.name] = row.calibrations.back();
    for (std::size_t i = 0; i < std::min(probes.size(), histories.size()); ++i) {
        auto const& line = newest[probes[i]];
        for (auto& point : histories[i].points)
            for (auto* value : {&point.min, &point.mean, &point.max})
                *value = line.gain * *value + line.offset;
    }
}

}  // namespace ingle::cli
