#include "daemon/forecast/bank.hpp"

#include <algorithm>
#include <cmath>
#include <limits>
#include <numeric>
#include <utility>

namespace ingle {
namespace {

constexpr std::uint64_t seed = 20261126;
constexpr double horizon_s = 36 * 3600.0;
constexpr std::size_t blocks_wanted = 40;
// Misfit is model error, not noise of the sensor: neighbouring readings say nearly the same, and no more
// than this many of them count.
constexpr double most_counted = 30, counted_share = 0.6;
constexpr double steps_of_belief[] = {0.03, 0.07, 0.15, 0.3, 0.6, 1};
constexpr int sweeps_a_step = 6;
constexpr double carried = 0.9, least_misfit_k = 0.05;

double on_grid(double x) {
    constexpr double most = 2000;  // of a logarithm: beyond it nothing is left of a weight
    return std::round(std::clamp(x, -most, most) / Bank::grid) * Bank::grid;
}

double log_prior(Unknowns const& z) {
    double sum = 0;
    for (float const x : z) sum += static_cast<double>(x) * x;
    return -sum / 2;
}

// The i-th of `count` equally likely values of a normal deviate (Acklam's shape is not needed: bisection of
// the error function, worked out once).
std::vector<double> normal_quantiles(std::size_t count) {
    std::vector<double> all(count);
    for (std::size_t i = 0; i < count; ++i) {
        double const share = (static_cast<double>(i) + 0.5) / static_cast<double>(count);
        double low = -6, high = 6;
        for (int k = 0; k < 40; ++k) {
            double const middle = (low + high) / 2;
            (0.5 * std::erfc(-middle / std::sqrt(2.0)) < share ? low : high) = middle;
        }
        all[i] = low;
    }
    return all;
}

// How long until the body's probe is at the target; negative: not within the horizon.
double arrival_of(Body body, float last, float offset, double dt, float target, bool heating,
                  MediumAhead const& ahead) {
    double const fade = std::max(body.slowest_s(), 1.0);
    float const sign = heating ? 1.0F : -1.0F;
    float before = sign * (last + offset - target);
    if (before >= 0) return 0;
    double t = 0;
    body.use_step(dt);
    float kept = offset, fades = static_cast<float>(std::exp(-dt / fade));
    auto const medium = static_cast<float>(ahead.mean_c);
    auto transient = static_cast<float>(ahead.transient_k * std::exp(-dt / 2 / ahead.fades_s));
    auto passes = static_cast<float>(std::exp(-dt / ahead.fades_s));
    for (int i = 1; t < horizon_s; ++i) {
        kept *= fades;
        float const now = sign * (body.step(medium + transient) + kept - target);
        if (now >= 0) return t + body.dt() * static_cast<double>(-before / (now - before));
        before = now;
        t += body.dt();
        transient *= passes;
        if (i >= 24 && i % 16 == 8) body.double_step(), fades *= fades, passes *= passes;
    }
    return -1;
}

}  // namespace

double Arrivals::quantile(double share) const {
    if (sorted.empty()) return std::numeric_limits<double>::infinity();
    double total = 0;
    for (auto const& one : sorted) total += one.weight;
    double sum = 0, before_t = sorted.front().after_s, before_share = 0;
    for (auto const& one : sorted) {
        double const middle = (sum + one.weight / 2) / total;
        if (middle >= share) {
            double const part = middle > before_share ? (share - before_share) / (middle - before_share) : 1;
            return before_t + (one.after_s - before_t) * part;
        }
        before_t = one.after_s, before_share = middle;
        sum += one.weight;
    }
    return sorted.back().after_s;
}

Bank::Bank(DishEntries const& entries, History const& history, double start_c, double start_sd_k)
    : prior_(entries, start_c, start_sd_k), draws_(seed), believed_(steps_of_belief[0]) {
    cells_.reserve(bodies);
    for (std::size_t i = 0; i < bodies; ++i) {
        Unknowns z;
        for (auto& x : z) x = static_cast<float>(draws_.normal());
        cells_.push_back(make(draw_shape(), z, history));
    }
    followed_ = history.size();
    version_ = history.version();
    for (auto& cell : cells_) cell.log_weight = cell.log_likelihood;
}

Shape Bank::draw_shape() {
    double const share = draws_.uniform();
    double const slab = prior_.share_of(Shape::slab);
    if (share < slab) return Shape::slab;
    return share < slab + prior_.share_of(Shape::cylinder) ? Shape::cylinder : Shape::sphere;
}

Bank::Cell Bank::make(Shape shape, Unknowns z, History const& history) const {
    constexpr double most = 30;
    for (auto& one : z) one = static_cast<float>(on_grid(std::clamp<double>(one, -most, most)));
    auto parameters = prior_.parameters(shape, z);
    if (!prior_.evaporates()) parameters.wetness = 0;
    Cell cell{
        shape, z, 0, 0, Body(parameters, history.medium(0)), {}, static_cast<float>(parameters.start_c)};
    cell.body.use_step(history.spacing_s());
    replay(cell, history, 0);
    cell.log_likelihood = log_likelihood(cell, history);
    return cell;
}

void Bank::replay(Cell& cell, History const& history, std::size_t from) const {
    for (std::size_t i = from; i < history.size(); ++i) {
        float const next = cell.body.step(history.medium(i));
        cell.residual[i] = history.core(i) - (cell.last + next) / 2;
        cell.last = next;
    }
}

// The scale of the misfit is not assumed but what it turns out to be; differences of neighbouring blocks tell
// what begins to be wrong now from an old offset.
double Bank::log_likelihood(Cell const& cell, History const& history) const {
    std::size_t const n = history.size(), per_block = (n + blocks_wanted - 1) / blocks_wanted;
    double const count = static_cast<double>(n) / static_cast<double>(std::max<std::size_t>(per_block, 1));
    double const half_life = 0.5 * count;
    double weight = 1, weights = 0, sum = 0, before = 0;
    double const grows = std::exp2(1 / half_life);
    bool first = true;
    int seen = 0;
    for (std::size_t at = 0; at < n; at += per_block, weight *= grows) {
        float total = 0;
        int have = 0;
        for (std::size_t i = at; i < std::min(at + per_block, n); ++i)
            if (history.has_core(i)) total += cell.residual[i], ++have;
        if (have == 0) continue;
        double const block = total / static_cast<float>(have);
        double const fresh = first ? std::sqrt(1 - carried) * block : block - carried * before;
        sum += weight * fresh * fresh;
        weights += weight;
        before = block;
        first = false;
        ++seen;
    }
    if (seen == 0) return 0;
    double const counted = std::min(most_counted, counted_share * seen);
    return on_grid(-believed_ * counted / 2 * std::log(sum / weights + least_misfit_k * least_misfit_k));
}

void Bank::follow(History const& history) {
    bool const anew = history.version() != version_;
    for (auto& cell : cells_) {
        if (anew) {
            double const weight = cell.log_weight - cell.log_likelihood;
            cell = make(cell.shape, cell.z, history);
            cell.log_weight = on_grid(weight + cell.log_likelihood);
        } else {
            replay(cell, history, followed_);
        }
    }
    followed_ = history.size();
    version_ = history.version();
}

std::vector<double> Bank::weights() const {
    double most = -std::numeric_limits<double>::infinity();
    for (auto const& cell : cells_) most = std::max(most, cell.log_weight);
    std::vector<double> all;
    double sum = 0;
    for (auto const& cell : cells_) sum += all.emplace_back(std::exp(cell.log_weight - most));
    for (auto& weight : all) weight /= sum;
    return all;
}

void Bank::improve(History const& history, int sweeps) {
    for (auto& cell : cells_) {
        double const now = log_likelihood(cell, history);
        cell.log_weight = on_grid(cell.log_weight + now - cell.log_likelihood);
        cell.log_likelihood = now;
    }
    auto const shares = weights();
    double squares = 0;
    for (double const share : shares) squares += share * share;
    if (1 / squares < static_cast<double>(bodies) / 2) resample();
    for (int i = 0; i < sweeps; ++i) sweep(history);
}

void Bank::settle(History const& history) {
    for (double const share : steps_of_belief) {
        believed_ = share;
        improve(history, sweeps_a_step);
    }
}

void Bank::resample() {
    auto const shares = weights();
    std::vector<Cell> chosen;
    chosen.reserve(bodies);
    double const step = 1.0 / static_cast<double>(bodies);
    double at = draws_.uniform() * step, sum = shares[0];
    for (std::size_t i = 0, from = 0; i < bodies; ++i, at += step) {
        while (sum < at && from + 1 < bodies) sum += shares[++from];
        chosen.push_back(cells_[from]);
        chosen.back().log_weight = 0;
    }
    cells_ = std::move(chosen);
}

// A step along the difference of two others (ter Braak 2006), or one coordinate drawn anew.
Bank::Cell Bank::propose(std::size_t i, double& log_prior_ratio, History const& history) {
    auto const& from = cells_[i];
    Unknowns z = from.z;
    Shape shape = from.shape;
    log_prior_ratio = 0;
    if (draws_.uniform() < 0.15) {
        z[draws_.below(unknown_count)] = static_cast<float>(draws_.normal());
    } else {
        auto const& a = cells_[draws_.below(bodies)].z;
        auto const& b = cells_[draws_.below(bodies)].z;
        double const which = draws_.uniform();
        double const chance = which < 1.0 / 3 ? 0.3 : which < 2.0 / 3 ? 0.6 : 1.0;
        bool moved[unknown_count];
        int count = 0;
        for (auto& one : moved) one = draws_.uniform() < chance, count += one;
        double const length =
            draws_.uniform() < 0.15 ? 1 : 1.68 / std::sqrt(std::max(count, 1)) * (0.5 + draws_.uniform() / 2);
        for (std::size_t k = 0; k < unknown_count; ++k)
            if (moved[k]) z[k] += static_cast<float>(length * (a[k] - b[k]) + 0.02 * draws_.normal());
        log_prior_ratio = log_prior(z) - log_prior(from.z);
    }
    if (draws_.uniform() < 0.15) shape = draw_shape();
    return make(shape, z, history);
}

void Bank::sweep(History const& history) {
    for (std::size_t i = 0; i < bodies; ++i) {
        double ratio = 0;
        auto proposal = propose(i, ratio, history);
        double const log_chance = proposal.log_likelihood - cells_[i].log_likelihood + ratio;
        if (log_chance < 0 && draws_.uniform() >= std::exp(log_chance)) continue;
        proposal.log_weight = cells_[i].log_weight;
        cells_[i] = proposal;
    }
}

Arrivals Bank::arrivals(History const& history, double target_c, bool heating,
                        MediumAhead const& ahead) const {
    static const std::vector<double> quantiles = normal_quantiles(bodies);
    auto const shares = weights();
    std::size_t const n = history.size(), newest = std::max<std::size_t>(n / 25, 1);
    double const dt = std::max(history.end_s() / 100, 5.0);
    Arrivals arrivals;
    arrivals.sorted.reserve(bodies);
    for (std::size_t i = 0; i < bodies; ++i) {
        if (shares[i] < 1e-6) continue;
        auto const& cell = cells_[i];
        float offset = 0;
        int have = 0;
        for (std::size_t k = n - newest; k < n; ++k)
            if (history.has_core(k)) offset += cell.residual[k], ++have;
        if (have > 0) offset /= static_cast<float>(have);
        auto course = ahead;
        course.mean_c += ahead.sd_k * quantiles[(i * 97) % bodies];
        double const after =
            arrival_of(cell.body, cell.last, offset, dt, static_cast<float>(target_c), heating, course);
        if (after < 0)
            arrivals.never += shares[i];
        else
            arrivals.sorted.push_back({after, shares[i]});
    }
    std::ranges::sort(arrivals.sorted, {}, &Arrival::after_s);
    return arrivals;
}

double Bank::misfit_k(History const& history) const {
    auto const shares = weights();
    double squares = 0, have = 0;
    for (std::size_t k = 0; k < history.size(); ++k) {
        if (!history.has_core(k)) continue;
        double mean = 0;
        for (std::size_t i = 0; i < bodies; ++i) mean += shares[i] * cells_[i].residual[k];
        squares += mean * mean, have += 1;
    }
    return have > 0 ? std::sqrt(squares / have) : 0;
}

}  // namespace ingle
