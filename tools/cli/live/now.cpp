// ingle now: what the kitchen looks like at this moment.
#include <algorithm>
#include <chrono>
#include <iostream>
#include <memory>
#include <ostream>
#include <set>
#include <thread>

#include "tools/cli/live/now_text.hpp"
#include "tools/cli/live/view_parts.hpp"
#include "tools/cli/time/local_time.hpp"

namespace ingle::cli {
namespace {

constexpr auto redraw_every = std::chrono::seconds(1);

// The alarms that nobody has seen.
class Unseen {
public:
    // Is there one that was not there when this was asked last?
    bool grew(Json const& alarms) {
        std::set<double> now;
        for (auto const& alarm : alarms)
            if (word(alarm, "state") == "unacknowledged") now.insert(number(alarm, "id").value_or(0));
        bool const anew = std::ranges::any_of(now, [&](double id) { return !before_.contains(id); });
        before_ = std::move(now);
        return anew;
    }

private:
    std::set<double> before_;
};

// The page from the top of the terminal, each line over the old one: nothing is blank in between. The
// sequences (ECMA-48: cursor position, erase in line, erase in page) go past the stream that shows data as
// plain text.
void over_the_last(std::string_view page, std::ostream& out, bool with_bell) {
    std::cout << "\x1b[H";
    while (!page.empty()) {
        auto const end = std::min(page.find('\n'), page.size());
        out << page.substr(0, end);
        std::cout << "\x1b[K\n";
        page.remove_prefix(std::min(end + 1, page.size()));
    }
    std::cout << "\x1b[J" << (with_bell ? "\a" : "");
}

int watch(Context& context) {
    Client const client(context.socket());
    Json last;
    auto fetched = std::chrono::steady_clock::now();
    Unseen unseen;
    for (;;) {
        std::string trouble;
        try {
            last = client.get("/api/now");
            fetched = std::chrono::steady_clock::now();
        } catch (Failure const& failure) {
            if (last.is_null()) throw;
            trouble = failure.what();
        }
        auto const screen = terminal();
        double const older_s =
            std::chrono::duration<double>(std::chrono::steady_clock::now() - fetched).count();
        auto page = now_text(last, trouble.empty() ? 0 : older_s, screen);
        if (!trouble.empty()) {
            page = screen.strong("no news for " + length_text(older_s) + ", what follows is old: ") +
                   trouble + "\n\n" + page;
        }
        bool const news = unseen.grew(list(last, "alarms"));
        if (screen.interactive)
            over_the_last(page + "(Ctrl-C ends this)\n", context.out, news);
        else
            context.out << page << "\n";
        context.out.flush();
        if (!context.out) return no;
        std::this_thread::sleep_for(redraw_every);
    }
}

}  // namespace

void add_now(Verb const& app, Context& context) {
    auto command =
        app.verb("now", "show the kitchen at this moment", "  ingle now --watch\n  ingle now goose-roll");
    struct Options {
        std::string dish;
        bool watch = false, json = false;
    };
    auto const given = std::make_shared<Options>();
    command.option("DISH", given->dish, "all that is known of this dish, each rule with its source");
    command.flag("--watch", given->watch, "keep showing it, redrawn every second; a bell for a new alarm");
    command.flag("--json", given->json, "as the API's JSON; temperatures in degC");
    command.does([&context, given] {
        if (given->watch && !given->json) {
            if (!given->dish.empty())
                throw Failure("--watch shows the whole kitchen: leave DISH out", wrong_usage);
            return watch(context);
        }
        auto const now = Client(context.socket()).get("/api/now");
        auto const dishes = list(now, "dishes");
        auto const dish =
            std::ranges::find(dishes, given->dish, [](Json const& one) { return word(one, "name"); });
        if (!given->dish.empty() && dish == dishes.end())
            throw Failure("there is no dish \"" + given->dish + "\" in this kitchen", wrong_usage);
        if (given->json)
            context.out << (given->dish.empty() ? now : *dish).dump(2) << "\n";
        else
            context.out << (given->dish.empty() ? now_text(now, 0, terminal())
                                                : dish_page(now, *dish, terminal()));
        return done;
    });
}

}  // namespace ingle::cli
