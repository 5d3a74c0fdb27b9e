// Gathers what a channel is to be told into few messages and words them. Owned by AlarmDesk; pure.
#pragma once

#include <map>
#include <optional>
#include <string>
#include <vector>

#include "config/settings.hpp"
#include "daemon/alarms/decide.hpp"
#include "daemon/alarms/inhibit.hpp"
#include "daemon/model/effects.hpp"

namespace ingle {

// A burst is gathered for this long into one message. What is high does not wait for it, unless a message
// about something new left within it: then it is the rest of a burst.
constexpr Span gather_for = std::chrono::seconds(3);

// Names of subjects, from the kitchen file.
class Names {
public:
    explicit Names(Settings const& settings);
    std::string const& of(Subject subject) const;
    std::optional<Subject> find(SubjectKind kind, std::string const& name) const;

private:
    std::vector<std::string> kitchen_, probes_, vessels_, dishes_;
    std::vector<std::string> const& list(SubjectKind kind) const;
};

// The alarm with a text that is true at `now`: what was judged last, unless it cannot be judged now, has gone
// back, or is silenced by a cause that says more.
Alarm as_it_is(AlarmRecord const& record, Instant now);

class Teller {
public:
    Teller(Settings const& settings);

    // Once a second, after the life cycles were stepped: appends at most one Tell per channel and kind. Marks
    // in the records what was said. True if something was said. The text of each alarm in a Tell is the
    // sentence that it is told with.
    bool step(Instant now, AlarmRecords& records, Names const& names, Effects& out);

    // After a restart: what was raised then and is not told yet has been gathered since then. Else a daemon
    // that dies every few seconds would never tell anything.
    void untold_since(std::size_t channel, Instant raised);

    // Nothing goes out by these now, and by all others it does.
    void channels_fail(Instant now, std::vector<std::string> const& names);

    std::vector<ChannelSettings> const& channels() const { return channels_; }

private:
    struct Line {
        AlarmRecord* record;
        Reason reason;
    };
    struct Gathering {
        std::optional<Instant> since;      // the first thing to say came up
        std::optional<Instant> raised_at;  // of the newest message about something new
    };

    bool earlier_ones_fail(Instant now, ChannelSettings const& channel, Priority priority) const;
    static bool is_urgent(std::vector<Line> const& raised);
    static bool is_quiet(Gathering const& gathering, Instant now);
    void say(Instant now, std::size_t channel, char const* kind, std::vector<Line> lines, Names const& names,
             Effects& out);
    std::string words(Instant now, std::vector<Line> const& lines, Names const& names) const;
    std::string sentences(Instant now, std::vector<Line> const& lines, Names const& names) const;
    std::string whole_line(Instant now, Line const& line, Names const& names) const;
    std::string line(Instant now, Line const& line, Names const& names) const;

    TemperatureUnit units_;
    std::vector<ChannelSettings> channels_;
    std::vector<Gathering> gathering_;        // by channel
    std::map<std::string, Instant> failing_;  // by channel's name: since when nothing goes out by it
};

}  // namespace ingle
