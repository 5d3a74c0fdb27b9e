// ingle now: what the kitchen looks like at this moment.
#include <chrono>
#include <iostream>
#include <memory>
#include <ostream>
#include <thread>

#include "tools/cli/live/now_text.hpp"
#include "tools/cli/time/local_time.hpp"

namespace ingle::cli {
namespace {

constexpr auto redraw_every = std::chrono::seconds(1);

int watch(Context& context) {
    Client const client(context.socket());
    Json last;
    auto fetched = std::chrono::steady_clock::now();
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
        auto page = now_text(last, trouble.empty() ? 0 : older_s, screen, true);
        if (!trouble.empty()) {
            page = screen.strong("no news for " + length_text(older_s) + ", what follows is old: ") +
                   trouble + "\n\n" + page;
        }
        // Home and clear: the old page must not shine through. Without a terminal each page just follows.
        if (screen.interactive) std::cout << "\x1b[H\x1b[2J";  // past what shows data as plain text
        context.out << page << (screen.interactive ? "\n(Ctrl-C ends this)\n" : "\n");
        context.out.flush();
        if (!context.out) return no;
        std::this_thread::sleep_for(redraw_every);
    }
}

}  // namespace

void add_now(Verb const& app, Context& context) {
    auto command = app.verb("now", "show the kitchen at this moment", "  ingle now --watch");
    auto const live = std::make_shared<bool>(false), json = std::make_shared<bool>(false);
    command.flag("--watch", *live, "keep showing it, redrawn every second");
    command.flag("--json", *json, "as the API's JSON; temperatures in degC");
    command.does([&context, live, json] {
        if (*live && !*json) return watch(context);
        auto const now = Client(context.socket()).get("/api/now");
        if (*json) {
            context.out << now.dump(2) << "\n";
        } else {
            context.out << now_text(now, 0, terminal());
        }
        return done;
    });
}

}  // namespace ingle::cli
