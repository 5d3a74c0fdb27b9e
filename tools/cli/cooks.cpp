// ingle cooks: the runs of dishes in the logbook.
#include <memory>
#include <ostream>

#include "drivers/reading/iso_time.hpp"
#include "tools/cli/book.hpp"
#include "tools/cli/client.hpp"
#include "tools/cli/text.hpp"

namespace ingle::cli {
namespace {

int cooks(Context& context, std::string const& file, std::string const& dish, bool json) {
    Book book(context, file);
    auto const rows = book.reader().cooks();
    book.check();
    auto const iso = [](WallTime at) { return iso_time(at, local_offset(at)); };
    Json list = Json::array();
    Table table;
    for (auto const& row : rows) {
        if (!dish.empty() && row.dish != dish) continue;
        list.push_back({{"cook", row.id},
                        {"dish", row.dish},
                        {"food", row.food},
                        {"plan", row.plan},
                        {"began", iso(row.began.wall)},
                        {"ended", row.ended ? Json(iso(row.ended->wall)) : Json(nullptr)},
                        {"clock_certain", row.began.certain}});
        auto const length = row.ended ? row.ended->wall - row.began.wall : wall_now() - row.began.wall;
        table.row({std::to_string(row.id), row.dish, row.food, row.plan,
                   time_text(row.began.wall) + (row.began.certain ? "" : " (clock uncertain)"),
                   length_text(seconds(length)), row.ended ? "" : "still running"});
    }
    if (json) {
        context.out << Json{{"cooks", list}}.dump(2, ' ', false, Json::error_handler_t::replace) << "\n";
    } else {
        context.out << (table.empty() ? "no cooks yet; begin one with `ingle begin DISH`\n" : table.text(""));
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
