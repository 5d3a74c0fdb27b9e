#include "tools/cli/schedule/icalendar.hpp"

#include <chrono>

#include "config/civil_time/iso_time.hpp"
#include "tools/cli/time/local_time.hpp"

namespace ingle::cli {
namespace {

using schedule::Seconds;

constexpr std::size_t longest_line = 75;  // octets, without the line's end

// "20261126T220000Z" (section 3.3.5, form 2).
std::string utc(Seconds t) {
    auto text = iso_time(WallTime(std::chrono::seconds(t)));
    std::erase_if(text, [](char c) { return c == '-' || c == ':'; });
    return text;
}

struct Event {
    std::string uid, summary, description;
    Seconds begin = 0, end = 0;
    bool needs_somebody = false;
};

class File {
public:
    explicit File(Seconds at) : at_(at) {
        line("BEGIN:VCALENDAR");
        line("VERSION:2.0");
        line("PRODID:-//Ingle//schedule//EN");
    }
    void add(Event const& event) {
        line("BEGIN:VEVENT");
        line("UID:" + event.uid + "@ingle");
        line("DTSTAMP:" + utc(at_));
        line("DTSTART:" + utc(event.begin));
        if (event.end > event.begin) line("DTEND:" + utc(event.end));
        line("SUMMARY:" + escaped(event.summary));
        if (!event.description.empty()) line("DESCRIPTION:" + escaped(event.description));
        if (event.needs_somebody) {
            line("BEGIN:VALARM");
            line("ACTION:DISPLAY");
            line("TRIGGER:-PT10M");
            line("DESCRIPTION:" + escaped(event.summary));
            line("END:VALARM");
        }
        line("END:VEVENT");
    }
    std::string text() {
        line("END:VCALENDAR");
        return std::move(out_);
    }

private:
    void line(std::string const& text) { out_ += folded(text); }

    Seconds at_;
    std::string out_;
};

}  // namespace

std::string folded(std::string_view line) {
    std::string out;
    std::size_t used = 0;
    for (std::size_t i = 0; i < line.size();) {
        auto next = i + 1;
        while (next < line.size() && (static_cast<unsigned char>(line[next]) & 0xC0) == 0x80) ++next;
        if (used + next - i > longest_line) out += "\r\n ", used = 1;
        out.append(line.substr(i, next - i));
        used += next - i;
        i = next;
    }
    return out + "\r\n";
}

std::string escaped(std::string_view text) {
    std::string out;
    for (char const c : text) {
        if (c == '\n') {
            out += "\\n";
            continue;
        }
        if (c == '\\' || c == ';' || c == ',') out += '\\';
        out += c;
    }
    return out;
}

std::string calendar(schedule::Schedule const& schedule, Settings const& settings) {
    File file(schedule.at);
    for (auto const& dish : schedule.dishes) {
        auto const& name = settings.dishes[static_cast<std::size_t>(dish.dish)].name;
        std::size_t place = 0;
        for (auto const& stage : dish.stages) {
            Event event;
            event.uid = name + "-" + std::to_string(++place) + "-" + stage.stage;
            event.summary = name + ": " + stage.stage;
            if (stage.vessel >= 0)
                event.summary += " in " + settings.vessels[static_cast<std::size_t>(stage.vessel)].name;
            event.description = "about " + length_text(stage.length.likely) + ", by " + stage.length.source;
            if (!stage.length.known) event.description = "how long is " + stage.length.source;
            if (stage.hands > 0)
                event.description += "\nyour hands for " + length_text(static_cast<double>(stage.hands));
            event.begin = stage.begin, event.end = stage.end;
            event.needs_somebody = stage.attended && !stage.began;
            file.add(event);
        }
        if (!dish.serve_at || !dish.ready_at) continue;
        Event serve{name + "-serve", "serve " + name, "", std::max(*dish.serve_at, *dish.ready_at), 0, true};
        if (*dish.ready_at > *dish.serve_at) serve.description = "later than planned";
        file.add(serve);
    }
    return file.text();
}

}  // namespace ingle::cli
