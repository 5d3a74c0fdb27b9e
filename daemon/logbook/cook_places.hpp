// What past cooks were read with: the kitchen file that was in force then, and the stages as they happened.
// Reads only; what cannot be read is left out, see the reader's `failure`.
#pragma once

#include <map>
#include <optional>
#include <string>
#include <vector>

#include "config/settings.hpp"
#include "daemon/logbook/reader.hpp"

namespace ingle::logbook {

// A number of an event, by its name.
std::optional<double> number_in(EventRow const& event, std::string_view key);

// The kitchen file in force at that time, as far as it can be read; empty settings if not.
Settings settings_at(Reader& reader, WallTime when);

// Which of a dish's events belong to one cook and count. What a dish did from an order until that was taken
// back does not; what it would have done without the order was told when it was taken back, and does.
class OwnEvents {
public:
    // `taken_back`: the events of that name, at least those within the cook.
    OwnEvents(CookRow const& cook, Window window, std::vector<EventRow> const& taken_back);
    bool count(EventRow const& event) const;

private:
    CookRow cook_;
    Window window_;
    std::vector<std::pair<double, double>> taken_back_;  // s since it began: from and to
};

struct Place {
    std::string vessel;  // that the dish was in; "" = the probe was in its core
    std::string probe;   // of the vessel's medium; "" = it had none
    Moment from;
    std::optional<Moment> to;  // empty: so still
    int core = -1;             // of a core: which of the dish's it is, the first is 0
};
// Also where the kitchen file was changed meanwhile.
struct ReadWith {
    std::vector<Place> cores, vessels;  // oldest first
};

// Of several cooks: what they have in common is read once. Used within the life of the reader.
class CookPlaces {
public:
    // `window`: in which all cooks lie that will be asked for.
    CookPlaces(Reader& reader, Window window);

    // The settings of a cook's begin; of its end, or of now, where the dish or its core was entered only
    // after the begin.
    Settings const& settings_of(CookRow const& cook);
    // Empty: no kitchen file of that time is kept, or it has no such dish.
    std::optional<ReadWith> read_with(CookRow const& cook);

private:
    Settings const& settings_at(WallTime when);
    Settings const& settings_of_text(std::string const& text);

    Reader& reader_;
    std::vector<EventRow> stages_, taken_back_;
    std::map<std::string, Settings> parsed_;  // by the file's text
};

}  // namespace ingle::logbook
