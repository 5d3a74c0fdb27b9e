// ingle now: what the kitchen looks like at this moment.
#include <algorithm>
#include <chrono>
#include <iostream>
#include <memory>
#include <ostream>
#include <set>
#include <thread>

#include "config/did_you_mean.hpp"
#include "tools/cli/live/now_text.hpp"
#include "tools/cli/live/view_parts.hpp"
#include "tools/cli/past/book.hpp"
#include "tools/cli/time/local_time.hpp"

namespace ingle::cli {
namespace {

constexpr auto redraw_every = std::chrono::seconds(1);
constexpr long live_limit_s = 3;  // what is older is no news, and is said to be old
constexpr long glance_limit_s = 10;

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

struct Options {
    std::string dish;
    bool watch = false, changes = false, json = false;
};

// "" = none is known.
std::string earlier_cook(Context const& context, std::string const& dish) {
    try {
        auto const cook = Book(context, "").cook_named(dish);
        if (!cook || !cook->ended) return {};
        return "  its last cook ended " + time_text(cook->ended->wall, true, false) + ": `ingle review " +
               dish + "`\n";
    } catch (Failure const&) {
        return {};  // no logbook, or none that can be read
    }
}

std::string page_of(Context const& context, Json const& now, Options const& given, double older_s,
                    Terminal const& screen) {
    if (given.dish.empty()) return now_text(now, older_s, screen);
    auto const dishes = list(now, "dishes");
    std::vector<std::string> names;
    for (auto const& one : dishes) names.push_back(word(one, "name"));
    auto const dish =
        std::ranges::find(dishes, given.dish, [](Json const& one) { return word(one, "name"); });
    if (dish == dishes.end())
        throw Failure(
            "there is no dish \"" + given.dish + "\" in this kitchen" + did_you_mean(given.dish, names),
            wrong_usage);
    if (given.json) return dish->dump(2) + "\n";
    return dish_page(now, *dish, screen) +
           (dish->value("begun", false) ? "" : earlier_cook(context, given.dish));
}

// On a terminal the page, over and over; else, and where asked for, the page once and then what is new.
class Watch {
public:
    Watch(Context& context, Options const& given)
        : context_(context), given_(given), changes_only_(given.changes || !terminal().interactive) {}

    void show(Json const& now, double older_s, std::string const& trouble) {
        bool const bell = unseen_.grew(list(now, "alarms"));
        if (changes_only_)
            tell_changes(now, trouble);
        else
            over_the_last(whole_page(now, older_s, trouble), context_.out, bell);
        context_.out.flush();
    }

private:
    std::string whole_page(Json const& now, double older_s, std::string const& trouble) const {
        auto screen = terminal();
        std::string head;
        if (!trouble.empty())
            head = screen.strong("no news for " + length_text(older_s) + ", what follows is old:") + "\n" +
                   wrapped(trouble, screen.width, "  ") + "\n\n";
        // The last line of a terminal stays free: a line break there would push the first one out.
        auto const taken = static_cast<std::size_t>(std::ranges::count(head, '\n')) + 1;
        if (screen.height > taken) screen.height -= taken;
        return head + page_of(context_, now, given_, trouble.empty() ? 0 : older_s, screen) +
               "(Ctrl-C ends this)\n";
    }
    void tell_changes(Json const& now, std::string const& trouble) {
        auto screen = terminal();
        screen.height = 0;
        if (before_.is_null())
            context_.out << page_of(context_, now, given_, 0, screen);
        else if (trouble.empty())
            context_.out << now_changes(before_, now);
        if (trouble.empty() != trouble_.empty())
            context_.out << (trouble.empty() ? "the daemon answers again" : "no news: " + trouble) << "\n";
        trouble_ = trouble;
        before_ = now;
    }

    Context& context_;
    Options const& given_;
    bool changes_only_;
    Unseen unseen_;
    Json before_;
    std::string trouble_;
};

int watch(Context& context, Options const& given) {
    Client const client(context.socket(), live_limit_s);
    Json last;
    auto fetched = std::chrono::steady_clock::now();
    Watch watch(context, given);
    for (;;) {
        std::string trouble;
        try {
            last = client.get("/api/now");
            fetched = std::chrono::steady_clock::now();
        } catch (Failure const& failure) {
            if (last.is_null()) throw;
            trouble = failure.what();
        }
        watch.show(last, std::chrono::duration<double>(std::chrono::steady_clock::now() - fetched).count(),
                   trouble);
        if (!context.out) return no;
        std::this_thread::sleep_for(redraw_every);
    }
}

}  // namespace

void add_now(Verb const& app, Context& context) {
    auto command =
        app.verb("now", "show the kitchen at this moment", "  ingle now --watch\n  ingle now goose-roll");
    auto const given = std::make_shared<Options>();
    command.option("DISH", given->dish, "all that is known of this dish, each rule with its source");
    command.flag("--watch", given->watch, "keep showing it, redrawn every second; a bell for a new alarm");
    command.flag("--changes", given->changes, "then only what is new, a line each: for a screen reader");
    command.flag("--json", given->json, "as the API's JSON; temperatures in degC");
    command.does([&context, given] {
        if ((given->watch || given->changes) && !given->json) return watch(context, *given);
        auto const now = Client(context.socket(), glance_limit_s).get("/api/now");
        if (given->json && given->dish.empty())
            context.out << now.dump(2) << "\n";
        else
            context.out << page_of(context, now, *given, 0, terminal());
        return done;
    });
}

}  // namespace ingle::cli
