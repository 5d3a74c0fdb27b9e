#include "daemon/forecast/history.hpp"

#include <charconv>
#include <cmath>
#include <limits>
#include <vector>

namespace ingle {
namespace {

constexpr float none = std::numeric_limits<float>::quiet_NaN();
constexpr std::string_view text_version = "means-1";

float mean_of(float a, float b) {
    return std::isnan(a) ? b : std::isnan(b) ? a : (a + b) / 2;
}

template <class Number>
void put(std::string& text, Number value) {
    char buffer[32];
    auto const end = std::to_chars(buffer, buffer + sizeof buffer, value).ptr;  // shortest that is exact
    text += ' ';
    if (std::isnan(value))
        text += '-';
    else
        text.append(buffer, end);
}

}  // namespace

bool History::add(double t, double core, std::optional<double> medium) {
    bool completed = false;
    double const before = last_medium_;
    if (t >= end_s() + spacing_) {
        if (open_core_.count > 0) close_open(), completed = true;
        // A gap: the medium went from what it was to what it is now.
        double const from = end_s(), to = medium.value_or(before);
        while (t >= end_s() + spacing_) {
            double const share = t > from ? (end_s() + spacing_ / 2 - from) / (t - from) : 1;
            close(none, knows_medium_ ? static_cast<float>(before + (to - before) * share) : none);
            completed = true;
        }
    }
    if (medium) {
        if (!knows_medium_) {
            medium_.fill(static_cast<float>(*medium));
            knows_medium_ = true;
            ++version_;
        }
        open_medium_.add(*medium);
        last_medium_ = static_cast<float>(*medium);
    }
    open_core_.add(core);
    newest_core_ = core;
    newest_t_ = t;
    return completed;
}

void History::close_open() {
    float const medium =
        open_medium_.count > 0 ? static_cast<float>(open_medium_.total / open_medium_.count) : last_medium_;
    float const core = static_cast<float>(open_core_.total / open_core_.count);
    open_core_ = open_medium_ = {};
    close(core, medium);
}

void History::close(float core, float medium) {
    core_[size_] = core;
    medium_[size_] = medium;
    if (core == core) ++cores_;
    if (++size_ == most) halve();
}

void History::halve() {
    cores_ = 0;
    for (std::size_t i = 0; i < most / 2; ++i) {
        core_[i] = mean_of(core_[2 * i], core_[2 * i + 1]);
        medium_[i] = mean_of(medium_[2 * i], medium_[2 * i + 1]);
        if (has_core(i)) ++cores_;
    }
    size_ = most / 2;
    spacing_ *= 2;
    ++version_;
}

void History::forget_core() {
    core_.fill(none);
    open_core_ = {};
    cores_ = 0;
    ++version_;
}

double History::open_medium() const {
    return open_medium_.count > 0 ? open_medium_.total / open_medium_.count : last_medium_;
}

std::string History::as_text() const {
    std::string text(text_version);
    for (double const x :
         {spacing_, newest_t_, newest_core_, open_core_.total, double(open_core_.count), open_medium_.total,
          double(open_medium_.count), knows_medium_ ? double(last_medium_) : double(none)})
        put(text, x);
    for (std::size_t i = 0; i < size_; ++i) put(text, core_[i]), put(text, medium_[i]);
    return text;
}

bool History::from_text(std::string_view text) {
    *this = {};
    if (!text.starts_with(text_version)) return false;
    std::vector<double> all;
    char const* at = text.data() + text_version.size();
    char const* const end = text.data() + text.size();
    while (at < end && *at == ' ') {
        double value = none;
        ++at;
        if (at < end && *at == '-' && (at + 1 == end || at[1] == ' ')) {
            ++at;
        } else {
            auto const read = std::from_chars(at, end, value);
            if (read.ec != std::errc{}) return false;
            at = read.ptr;
        }
        all.push_back(value);
    }
    bool const whole = at == end && all.size() >= 8 && all.size() % 2 == 0 && all.size() / 2 - 4 < most &&
                       all[0] > 0 && all[4] >= 0 && all[6] >= 0 && all[4] < 1e9 && all[6] < 1e9;
    if (!whole) return false;
    spacing_ = all[0], newest_t_ = all[1], newest_core_ = all[2];
    open_core_ = {all[3], static_cast<int>(all[4])};
    open_medium_ = {all[5], static_cast<int>(all[6])};
    knows_medium_ = !std::isnan(all[7]);
    if (knows_medium_) last_medium_ = static_cast<float>(all[7]);
    for (std::size_t i = 8; i < all.size(); i += 2)
        close(static_cast<float>(all[i]), static_cast<float>(all[i + 1]));
    ++version_;
    return true;
}

}  // namespace ingle
