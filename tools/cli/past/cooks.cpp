// ingle cooks: the runs of dishes in the logbook.
#include <algorithm>
#include <memory>
#include <ostream>
#include <sstream>

#include "config/civil_time/iso_time.hpp"
#include "config/did_you_mean.hpp"
#include "tools/cli/output/text.hpp"
#include "tools/cli/past/book.hpp"
#include "tools/cli/past/imports.hpp"
#include "tools/cli/program/client.hpp"
#include "tools/cli/time/local_time.hpp"

namespace ingle::cli {
namespace {

struct Listed {
    Json json = Json::array();
    std::vector<std::vector<std::string>> rows;
};

std::string as_table(Listed const& listed) {
    Table table;
    table.row({"cook", "dish", "food", "plan", "began", "took", ""});
    for (auto const& row : listed.rows) table.row(row);
    return table.text("");
}

// Two lines of each, where the table is too wide: which it is, and when.
std::string as_lines(Listed const& listed, std::size_t width) {
    std::string text;
    for (auto const& row : listed.rows) {
        std::string lines[2] = {row[0] + " ", ""};
        for (std::size_t i = 1; i < row.size(); ++i) {
            auto& line = lines[i < 4 ? 0 : 1];
            if (!row[i].empty()) line += (line.empty() || i == 1 ? "" : ", ") + row[i];
        }
        text += wrapped(lines[0], width, "") + "\n" + wrapped(lines[1], width, "    ") + "\n";
    }
    return text;
}

bool fits(std::string const& text, std::size_t width) {
    std::istringstream lines(text);
    for (std::string line; std::getline(lines, line);)
        if (width_of(line) > width) return false;
    return true;
}

// `import`: the name of an imported recording; "" = the logbook's own.
void list(Listed& listed, Book& book, std::string const& dish, std::string const& import) {
    auto const rows = book.reader().cooks();
    book.check();
    for (auto const& row : rows) {
        if (!dish.empty() && row.dish != dish && import != dish) continue;
        listed.json.push_back({{"cook", row.id},
                               {"import", import.empty() ? Json(nullptr) : Json(import)},
                               {"dish", row.dish},
                               {"food", row.food},
                               {"plan", row.plan},
                               {"began", local_iso(row.began.wall)},
                               {"ended", row.ended ? Json(local_iso(row.ended->wall)) : Json(nullptr)},
                               {"clock_certain", row.began.certain},
                               {"taken_back", row.taken_back}});
        auto const length = row.ended ? row.ended->wall - row.began.wall : wall_now() - row.began.wall;
        std::string state;
        if (!import.empty())
            state = "imported";
        else if (row.taken_back)
            state = "taken back";
        else if (!row.ended)
            state = "still running";
        listed.rows.push_back({import.empty() ? std::to_string(row.id) : import, row.dish, row.food, row.plan,
                               time_text(row.began.wall) + (row.began.certain ? "" : " (clock uncertain)"),
                               row.taken_back ? "" : length_text(seconds(length)), std::move(state)});
    }
}

// What cooks while the logbook cannot be written: the daemon alone knows of it. False: all is recorded, or
// no daemon runs.
bool list_unrecorded(Listed& listed, Context const& context, std::string const& wanted) {
    constexpr long limit_s = 5;
    Json now;
    try {
        now = Client(context.socket(), limit_s).get("/api/now");
    } catch (Failure const&) {
        return false;
    }
    if (now.value("daemon", Json::object()).value("recording", true)) return false;
    for (auto const& dish : now.value("dishes", Json::array())) {
        auto const name = dish.value("name", "");
        bool const known = std::ranges::any_of(listed.json, [&](Json const& row) {
            return row.at("import").is_null() && row.at("cook") == dish.at("cook");
        });
        if (!dish.value("begun", false) || known || (!wanted.empty() && name != wanted)) continue;
        auto const began =
            dish.at("began").is_string() ? parse_iso_time(dish.at("began").get<std::string>()) : std::nullopt;
        auto const age = dish.at("began_age_s").is_number() ? dish.at("began_age_s").get<double>() : 0.0;
        listed.json.push_back({{"cook", dish.at("cook")},
                               {"import", nullptr},
                               {"dish", name},
                               {"food", dish.at("food")},
                               {"plan", nullptr},
                               {"began", dish.at("began")},
                               {"ended", nullptr},
                               {"clock_certain", began.has_value()},
                               {"taken_back", false}});
        listed.rows.push_back({dish.at("cook").dump(), name,
                               dish.at("food").is_string() ? dish.at("food").get<std::string>() : "", "",
                               began ? time_text(*began) : "time not known", length_text(age),
                               "still running, not recorded yet"});
    }
    return true;
}

// A dish that has not cooked yet has no cooks; what is no dish at all was mistyped.
void refuse_unknown(Context const& context, std::string const& file, std::string const& dish) {
    std::error_code ignored;
    auto known = imports(context);
    if (!file.empty() || std::filesystem::exists(context.logbook(), ignored)) {
        Book book(context, file);
        for (auto const& name : names_of(book.settings_at(wall_now()).dishes)) known.push_back(name);
        for (auto const& row : book.reader().cooks()) known.push_back(row.dish);
    }
    if (std::ranges::find(known, dish) == known.end())
        throw Failure(
            "no dish is called \"" + dish + "\"; `ingle cooks` lists all cooks" + did_you_mean(dish, known),
            wrong_usage);
}

int cooks(Context& context, std::string const& file, std::string const& dish, bool json) {
    Listed listed;
    auto const names = file.empty() ? imports(context) : std::vector<std::string>();
    std::error_code ignored;
    // Imported recordings can be looked at where no daemon ever ran.
    if (names.empty() || std::filesystem::exists(context.logbook(), ignored)) {
        Book book(context, file);
        list(listed, book, dish, "");
    }
    for (auto const& name : names) {
        Book book(context, import_path(context, name).string());
        list(listed, book, dish, name);
    }
    bool const unrecorded = file.empty() && list_unrecorded(listed, context, dish);
    if (listed.rows.empty() && !dish.empty()) refuse_unknown(context, file, dish);
    if (json) {
        context.out << Json{{"cooks", listed.json}}.dump(2, ' ', false, Json::error_handler_t::replace)
                    << "\n";
    } else if (listed.rows.empty()) {
        context.out << (dish.empty() ? std::string("no cooks yet; begin one with `ingle begin DISH`\n")
                                     : "no cook of \"" + dish + "\"; `ingle cooks` lists all\n");
    } else {
        auto const table = as_table(listed);
        context.out << (fits(table, terminal().width) ? table : as_lines(listed, terminal().width));
    }
    if (unrecorded && !json)
        context.out
            << wrapped(
                   "The logbook cannot be written at present: what ended since then still stands here as "
                   "running. `ingle doctor` says why.",
                   terminal().width, "")
            << "\n";
    return done;
}

}  // namespace

void add_cooks(Verb const& app, Context& context) {
    auto command = app.verb("cooks", "the runs of dishes, newest first", "  ingle cooks goose-roll");
    auto const file = std::make_shared<std::string>(), dish = std::make_shared<std::string>();
    auto const json = std::make_shared<bool>(false);
    command.option("DISH", *dish, "only of this dish");
    command.option("--logbook", *file, "read this file instead of the state folder's");
    command.flag("--json", *json, "answer in JSON");
    command.does([&context, file, dish, json] { return cooks(context, *file, *dish, *json); });
}

}  // namespace ingle::cli
