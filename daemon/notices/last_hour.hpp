// The last hour of each probe and the bands of the vessels, coarse enough for a small chart; in memory only.
// Pure; one thread.
#pragma once

#include <deque>
#include <optional>
#include <vector>

#include "config/settings.hpp"
#include "daemon/model/effects.hpp"
#include "daemon/model/view.hpp"
#include "daemon/notices/chart.hpp"

namespace ingle {

class LastHour {
public:
    explicit LastHour(Settings const& settings);

    void note(Recorded const& reading);
    void note_bands(View const& view);
    // Goes on from what another one knows of the probes and vessels of the same names.
    void continue_from(LastHour const& earlier);
    // Without its times of the day. Empty: the subject has no probe, or too little was read.
    std::optional<Chart> chart(Subject subject, Instant now) const;

private:
    struct Bin {
        Instant first, last;
        double low, high;
        bool after_gap;
    };
    struct Probe {
        std::string name;
        Span joined;  // readings further apart than this have a gap between them
        std::deque<Bin> bins;
        bool cut = true;  // a fault came since the newest
    };
    struct BandChange {
        Instant at;
        std::optional<Band> band;
    };
    struct Vessel {
        std::string name;
        std::deque<BandChange> changes;
    };

    Settings const& settings_;
    std::vector<Probe> probes_;
    std::vector<Vessel> vessels_;
    std::optional<Instant> since_;
};

}  // namespace ingle
