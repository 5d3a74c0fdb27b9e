// ingle import: a recording becomes a logbook of its own, so that history, review, compare and export work on
// it. The daemon's own logbook is not touched.
#include <algorithm>
#include <memory>
#include <ostream>

#include "config/band_words.hpp"
#include "config/did_you_mean.hpp"
#include "daemon/logbook/kept_forecast.hpp"
#include "daemon/logbook/logbook.hpp"
#include "daemon/replay/lines.hpp"
#include "daemon/replay/run.hpp"
#include "tools/cli/past/book.hpp"
#include "tools/cli/past/imports.hpp"
#include "tools/cli/program/files.hpp"
#include "tools/cli/time/local_time.hpp"

namespace ingle::cli {
namespace {

struct Options {
    std::string recording, as, kitchen, at, core, medium, food, band, kind = "oven";
    std::vector<std::string> begin;
};

constexpr std::size_t flushed_every = 100'000;  // readings
constexpr Span slow_disk{600'000};
constexpr auto a_century = std::chrono::hours(24 * 36525);

struct Kit {  // the kitchen that the recording is of
    std::string text;
    Settings settings;
    std::vector<int> dishes;
};

[[noreturn]] void refuse(std::string const& sentence) {
    throw Failure(sentence, wrong_usage);
}

Kit from_kitchen_file(Options const& given) {
    Kit kit;
    kit.text = read_file(given.kitchen, longest_kitchen_file);
    kit.settings = read_kitchen(given.kitchen);
    auto begin = given.begin;
    if (begin.empty() && kit.settings.dishes.size() == 1) begin.push_back(kit.settings.dishes[0].name);
    std::string known;
    for (auto const& name : names_of(kit.settings.dishes)) known += (known.empty() ? "" : ", ") + name;
    if (begin.empty()) refuse("say which dish it is with --begin; the kitchen file has " + known);
    for (auto const& name : begin) {
        auto const dish = std::ranges::find(kit.settings.dishes, name, &DishSettings::name);
        if (dish == kit.settings.dishes.end())
            refuse("the kitchen file has no dish \"" + name + "\"; it has " + known +
                   did_you_mean(name, names_of(kit.settings.dishes)));
        kit.dishes.push_back(static_cast<int>(dish - kit.settings.dishes.begin()));
    }
    return kit;
}

// A kitchen of one dish in one vessel, from what the command line says.
Kit from_words(Options const& given, Recording const& recording, TemperatureUnit unit) {
    Kit kit;
    auto const quoted = [](std::string const& text) {
        std::string safe;
        for (char const c : text) safe += c == '"' || c == '\\' || c < ' ' ? '?' : c;
        return "\"" + safe + "\"";
    };
    auto& text = kit.text;
    text =
        "[kitchen]\nname = " + quoted(given.as) + "\nunits = " + quoted(std::string(unit_name(unit))) + "\n";
    for (auto const& column : recording.columns)
        text += "\n[[probe]]\nname = " + quoted(column.name) + "\ndriver = \"recorded\"\nfile = " +
                quoted(std::filesystem::path(given.recording).filename().string()) + "\n";
    text += "\n[[vessel]]\nname = \"vessel\"\nkind = " + quoted(given.kind) + "\n";
    if (!given.medium.empty()) text += "medium = " + quoted(given.medium) + "\n";
    if (!given.band.empty()) {
        auto const band = read_band({given.band});
        if (!band.wrong.empty()) refuse("--band: " + band.wrong);
        text += "band = [" + quoted(band.low) + ", " + quoted(band.high) + "]\n";
    }
    text += "\n[[dish]]\nname = " + quoted(given.as) + "\nvessel = \"vessel\"\n";
    if (!given.core.empty()) text += "core = " + quoted(given.core) + "\n";
    if (!given.food.empty()) text += "food = " + quoted(given.food) + "\n";
    auto loaded = parse_kitchen(text, "the command line");
    std::string all = "the recording cannot be imported so:";
    for (auto const& error : loaded.errors)
        all += "\n  " + error.key + ": " + error.wrong + ", " + error.right;
    if (!loaded.errors.empty()) refuse(all);
    kit.settings = std::move(loaded.settings);
    kit.dishes = {0};
    return kit;
}

// When the first row was, and whether that is known or only taken from the file's own date.
std::pair<WallTime, bool> start_of(Options const& given, Recording const& recording) {
    if (!given.at.empty()) {
        auto const since = parse_span(given.at, wall_now());  // a moment is a span until now
        if (!since.span && parse_span(given.at, wall_now() + a_century).span)
            refuse("--at: \"" + given.at + "\" is still to come; say when the first row was read");
        if (!since.span) refuse("--at: " + since.wrong);
        return {since.span->from, true};
    }
    if (recording.start) return {*recording.start, true};
    std::error_code ignored;
    auto const written = std::filesystem::last_write_time(given.recording, ignored);
    auto const at =
        ignored ? wall_now()
                : std::chrono::floor<std::chrono::milliseconds>(std::chrono::file_clock::to_sys(written));
    return {at - recording.times.back(), false};
}

class Import {
public:
    Import(Kit kit, Recording recording, std::string name, std::filesystem::path path)
        : kit_(std::move(kit)),
          recording_(std::move(recording)),
          name_(std::move(name)),
          path_(std::move(path)) {}

    void write(WallTime start, bool certain) {
        recording_.start = start;
        logbook::WriterOptions options;
        options.path = path_.string();
        for (auto const& probe : kit_.settings.probes)
            options.probes.push_back({probe.name, "recorded", "import", {}});
        for (auto const& vessel : kit_.settings.vessels) options.vessels.push_back(vessel.name);
        for (auto const& dish : kit_.settings.dishes) options.dishes.push_back(dish.name);
        options.settings = kit_.text;
        options.boot_id = "import-" + name_;
        options.clock = {start.time_since_epoch().count(), certain};
        writer_ = std::make_unique<logbook::Writer>(std::move(options), logbook::Callbacks{});
        if (auto const resumed = writer_->resume(slow_disk); !resumed.recording) throw Failure(resumed.text);
        std::vector<TimedCommand> commands;
        for (int const dish : kit_.dishes) commands.push_back({Span(0), Begin{dish}});
        for (int const dish : kit_.dishes) commands.push_back({recording_.times.back(), End{dish}});
        auto const end =
            run_replay(kit_.settings, recording_, commands, [this](Effect const& effect) { keep(effect); });
        for (auto const id : cooks_) writer_->cook_ended(id, end.end);
        flush();
        writer_->stop(slow_disk);
        writer_.reset();
    }
    std::size_t readings() const { return readings_; }

private:
    void keep(Effect const& effect) {
        if (auto const* reading = std::get_if<Recorded>(&effect)) {
            writer_->record(*reading);
            if (++readings_ % flushed_every == 0) flush();
        } else if (auto const* change = std::get_if<AlarmChanged>(&effect)) {
            if (change->transition != Transition::updated) writer_->record(*change);
        } else if (auto const* event = std::get_if<Event>(&effect)) {
            writer_->record(*event);
            follow(*event);
        } else if (auto const* forecast = std::get_if<Forecast>(&effect)) {
            if (forecast->kept) writer_->record(logbook::event_of(*forecast));
        }
    }

    void follow(Event const& event) {
        if (event.name != "stage-began" || event.subject.kind != SubjectKind::dish) return;
        std::optional<double> cook;
        for (auto const& [key, value] : event.numbers)
            if (key == "cook") cook = value;
        if (!cook) return;
        auto const id = static_cast<std::int64_t>(*cook);
        if (std::ranges::find(cooks_, id) != cooks_.end()) return;
        auto const& dish = kit_.settings.dishes[static_cast<std::size_t>(event.subject.number)];
        writer_->cook_begun({id, dish.name, dish.food, dish.plan, event.at});
        cooks_.push_back(id);
    }

    void flush() {
        if (writer_->flush(slow_disk)) return;
        auto const trouble = writer_->trouble();
        throw Failure(trouble ? trouble->text : "the recording cannot be written to " + path_.string());
    }

    Kit kit_;
    Recording recording_;
    std::string name_;
    std::filesystem::path path_;
    std::unique_ptr<logbook::Writer> writer_;
    std::vector<std::int64_t> cooks_;
    std::size_t readings_ = 0;
};

void check_name(Context const& context, std::string const& name) {
    if (!could_be_import(name))
        refuse("--as: a name has lower-case letters, digits and '-', such as supper-2025");
    if (auto const path = import_path(context, name); !path.empty())
        refuse("there is a recording imported as " + name + " already; choose another name, or remove " +
               path.string());
    std::error_code ignored;
    if (!std::filesystem::exists(context.logbook(), ignored)) return;
    if (Book(context, context.logbook().string()).cook_named(name))
        refuse("the logbook has cooks called " + name + "; choose another name");
}

void remove_file(std::filesystem::path const& path) {
    std::error_code ignored;
    for (auto const* tail : {"", "-wal", "-shm"}) std::filesystem::remove(path.string() + tail, ignored);
}

int import(Context& context, Options const& given) {
    check_name(context, given.as);
    auto recording = as_kept(read_recording(given.recording));
    if (recording.rows() == 0) refuse(given.recording + " has no rows");
    if (recording.times.back() <= recording.times.front())
        refuse(given.recording +
               " has readings of one moment only: a cook needs at least two rows at different times");
    auto const fahrenheit = std::ranges::any_of(
        recording.columns, [](auto const& column) { return column.scale == Scale::fahrenheit; });
    auto kit = given.kitchen.empty()
                   ? from_words(given, recording,
                                fahrenheit ? TemperatureUnit::fahrenheit : TemperatureUnit::celsius)
                   : from_kitchen_file(given);
    for (auto& probe : kit.settings.probes) probe.calibration.clear();  // a recording is taken as it stands
    bool const known = std::ranges::any_of(recording.columns, [&](auto const& column) {
        return std::ranges::find(kit.settings.probes, column.name, &ProbeSettings::name) !=
               kit.settings.probes.end();
    });
    if (!known) refuse("no column of the recording has the name of a probe of the kitchen");
    auto const [start, certain] = start_of(given, recording);
    auto const final_path = import_folder(context) / (given.as + ".db");
    auto const part = final_path.string() + ".part";
    std::error_code error;
    std::filesystem::create_directories(import_folder(context), error);
    if (error) throw Failure("cannot make " + import_folder(context).string() + ": " + error.message());
    remove_file(part);
    Import work(std::move(kit), std::move(recording), given.as, part);
    try {
        work.write(start, certain);
    } catch (...) {
        remove_file(part);
        throw;
    }
    std::filesystem::rename(part, final_path, error);
    if (error) throw Failure("cannot make " + final_path.string() + ": " + error.message());
    context.out << work.readings() << (work.readings() == 1 ? " reading is" : " readings are")
                << " imported as " << given.as << ", begun " << time_text(start)
                << (certain ? "" : " (the date is only that of the file; --at sets it)")
                << "\nsee it with `ingle review " << given.as << "`\n";
    if (start > wall_now())
        context.out << "That is still to come by this machine's clock: is its date right?\n";
    return done;
}

}  // namespace

void add_import(Verb const& app, Context& context) {
    auto command =
        app.verb("import", "keep a recording, so that history, review and compare work on it",
                 "  ingle import supper.csv --as supper-2025 --kitchen kitchen.toml --begin goose-roll\n"
                 "  ingle import roast.csv --as roast --core breast --food whole-poultry");
    auto const given = std::make_shared<Options>();
    command.required("RECORDING", given->recording, "a CSV of readings (`ingle export` writes it)");
    command.required("--as", given->as, "what to call it");
    command.option("--kitchen", given->kitchen, "the kitchen file that it is of; its drivers are ignored");
    command.repeated("--begin", given->begin, "with --kitchen: the dish that was cooked; may be repeated");
    command.option("--at", given->at,
                   "when the first row was, if the recording counts seconds: \"2026-11-20 14:00\"");
    command.option("--core", given->core, "without --kitchen: the column of the food's core");
    command.option("--food", given->food, "without --kitchen: the food class");
    command.option("--medium", given->medium, "without --kitchen: the column of the air or liquid around it");
    command.option("--band", given->band, "without --kitchen: its band, \"180 degF to 190 degF\"");
    command.option("--kind", given->kind, "without --kitchen: pot, bath, smoker, oven, fridge, ...; oven");
    command.does([&context, given] { return import(context, *given); });
}

}  // namespace ingle::cli
