// ingle cooks: the runs of dishes in the logbook.
#include <memory>
#include <ostream>

#include "tools/cli/output/text.hpp"
#include "tools/cli/past/book.hpp"
#include "tools/cli/past/imports.hpp"
#include "tools/cli/program/client.hpp"
#include "tools/cli/time/local_time.hpp"

namespace ingle::cli {
namespace {

struct Listed {
    Json json = Json::array();
    Table table;
};

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
                               {"clock_certain", row.began.certain}});
        auto const length = row.ended ? row.ended->wall - row.began.wall : wall_now() - row.began.wall;
        listed.table.row({import.empty() ? std::to_string(row.id) : import, row.dish, row.food, row.plan,
                          time_text(row.began.wall) + (row.began.certain ? "" : " (clock uncertain)"),
                          length_text(seconds(length)),
                          !import.empty() ? "imported"
                          : row.ended     ? ""
                                          : "still running"});
    }
}

int cooks(Context& context, std::string const& file, std::string const& dish, bool json) {
    Listed listed;
    listed.table.row({"cook", "dish", "food", "plan", "began", "took", ""});
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
    if (json) {
        context.out << Json{{"cooks", listed.json}}.dump(2, ' ', false, Json::error_handler_t::replace)
                    << "\n";
    } else {
        context.out << (listed.json.empty() ? "no cooks yet; begin one with `ingle begin DISH`\n"
                                            : listed.table.text(""));
    }
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
