#include "daemon/forecast/medium_level.hpp"

#include <algorithm>
#include <cmath>
#include <vector>

namespace ingle {
namespace {

// Swings of thermostats and fires last up to about so long (common practice, no source): readings nearer to
// each other than this say the same.
constexpr double block_s = 1200;
constexpr double far_off = 3;         // standard deviations: another level, or a door
constexpr double instrument_k = 0.5;  // two probes that were checked in ice water still differ by so much
constexpr double doubt = 0.02;        // that the level is farther off, at any time of a cook

// What such means scatter by, before any is seen, K (common practice, no source), and how many means that is
// worth.
double usual_scatter(Surroundings where, bool cooling) {
    switch (where) {
        case Surroundings::liquid:
            return cooling ? 0.4 : 0.7;
        case Surroundings::oven:
        case Surroundings::smoker:
            return 3;
        case Surroundings::cold:
            break;
    }
    return 1;
}
constexpr double usual_counts = 3;

// Until a level is said to be too low, in block_s: a whole swing; where it was another one before, as long as
// the trace of an opened door or two.
constexpr double least_blocks = 2;
double blocks_of_doors(Surroundings where) {
    return where == Surroundings::oven || where == Surroundings::smoker ? 6 : 4;
}

// Half of what the readings of the newest whole swing range over: means scatter by less. Too few yet:
// `otherwise`.
double half_range(History const& history, double otherwise) {
    auto const span = static_cast<std::size_t>(least_blocks * block_s / history.spacing_s());
    if (span < 2 || span > history.size()) return otherwise;
    double low = history.medium(history.size() - 1), high = low;
    for (std::size_t i = history.size() - span; i < history.size(); ++i) {
        low = std::min<double>(low, history.medium(i));
        high = std::max<double>(high, history.medium(i));
    }
    return (high - low) / 2;
}

// Newest first. What is left over at the begin is dropped unless it is all there is.
std::vector<double> block_means(History const& history, double& share_of_block) {
    std::size_t const n = history.size();
    auto const wanted = static_cast<std::size_t>(std::llround(block_s / history.spacing_s()));
    std::size_t const per_block = std::clamp<std::size_t>(wanted, 1, n);
    share_of_block = std::min(1.0, static_cast<double>(per_block) * history.spacing_s() / block_s);
    std::vector<double> means;
    for (std::size_t end = n; end >= per_block; end -= per_block) {
        double sum = 0;
        for (std::size_t i = end - per_block; i < end; ++i) sum += history.medium(i);
        means.push_back(sum / static_cast<double>(per_block));
    }
    return means;
}

double median(std::vector<double> some) {
    auto const middle = some.begin() + static_cast<std::ptrdiff_t>(some.size() / 2);
    std::ranges::nth_element(some, middle);
    return *middle;
}

// By medians of the halves: one door does not hide a fire that comes up.
double rise_of(std::vector<double> const& newest_first) {
    auto const half = static_cast<std::ptrdiff_t>(newest_first.size() / 2);
    if (half == 0) return 0;
    return median({newest_first.begin(), newest_first.begin() + half}) -
           median({newest_first.end() - half, newest_first.end()});
}

// Opened doors pull a mean down for long, but leave the better readings as they are.
double best_quarter(History const& history, double judged_s, bool cooling) {
    auto const span = static_cast<std::size_t>(judged_s / history.spacing_s());
    std::size_t const from = history.size() - std::clamp<std::size_t>(span, 1, history.size());
    std::vector<float> readings;
    for (std::size_t i = from; i < history.size(); ++i) readings.push_back(history.medium(i));
    std::ranges::sort(readings);
    return readings[cooling ? readings.size() / 4 : readings.size() * 3 / 4];
}

// Of a mean of `count` independent values, in its own standard deviations: no farther off at any count with
// probability 1 - doubt (Robbins 1970, normal mixture of weight one).
double at_any_time(double count) {
    return std::sqrt((1 + 1 / count) * (std::log1p(count) + 2 * std::log(1 / doubt)));
}

}  // namespace

MediumLevel medium_level(History const& history, Surroundings where, bool cooling) {
    double share = 1;
    auto const means = block_means(history, share);
    double const most = usual_scatter(where, cooling);
    double const usual = std::max(std::min(most, half_range(history, most)), instrument_k / 2),
                 reference = median(
                     {means.begin(),
                      means.begin() + static_cast<std::ptrdiff_t>(std::min<std::size_t>(means.size(), 3))});
    double count = 0, mean = reference, squares = usual_counts * usual * usual, scatter = usual;
    int apart = 0;
    for (double const one : means) {
        double const room = far_off * scatter * std::sqrt(1 + 1 / std::max(count, 1.0));
        if (std::abs(one - mean) > room) {
            if (++apart == 2) break;
            continue;
        }
        apart = 0;
        double const old = count > 0 ? mean : one;
        ++count;
        mean = old + (one - old) / count;
        squares += (one - old) * (one - mean);
        scatter = std::sqrt(squares / (usual_counts + count - 1));
    }
    // And as long before: it may be still coming up.
    auto const seen = std::min(means.size(), 2 * static_cast<std::size_t>(std::max(count, 1.0)));
    double const rise = rise_of({means.begin(), means.begin() + static_cast<std::ptrdiff_t>(seen)});
    double const judged = std::max(count, 1.0) * share * block_s;
    count = std::max(count, 1.0);  // a part of one may be as far off as a whole one
    double const random = at_any_time(count) * scatter / std::sqrt(count);
    double const blocks = apart == 2 ? blocks_of_doors(where) : least_blocks;
    return {mean,   std::hypot(random, instrument_k),
            rise,   best_quarter(history, judged, cooling),
            judged, blocks * block_s};
}

}  // namespace ingle
