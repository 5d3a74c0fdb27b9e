// Holds every word against the readings: no level that was not read, no forecast that the newest readings
// contradict. Knows nothing of how Ingle arrives at its words.
#pragma once

#include <deque>
#include <string>
#include <utility>
#include <vector>

#include "config/settings.hpp"
#include "daemon/model/effects.hpp"
#include "daemon/model/view.hpp"

namespace ingle::scenarios {

class Honest {
public:
    explicit Honest(Settings const& settings);

    void read(int probe, double at_s, double celsius);  // as the driver gave it
    void effects(double at_s, Effects const& effects);
    void view(double at_s, View const& view);

    int statements() const { return statements_; }  // levels and forecasts that were looked at
    std::vector<std::string> const& lies() const { return lies_; }

private:
    using Readings = std::deque<std::pair<double, double>>;  // s, degC: the last minutes
    std::vector<int> probes_of(Subject subject) const;
    void level(double at_s, Subject subject, double celsius, std::string const& said);
    void text(double at_s, Subject subject, std::string const& said);
    void forecast(double at_s, Subject subject, int direction, std::string const& said, bool of_text);
    void forecast(double at_s, Forecast const& forecast, std::string const& said);
    void beside_trend(double at_s, View const& view, int vessel, int direction, std::string const& said);

    Settings const& settings_;
    std::vector<Readings> readings_;
    int statements_ = 0;
    std::vector<std::string> lies_;
};

}  // namespace ingle::scenarios
