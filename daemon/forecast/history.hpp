// What a core and its medium read, as means over equal spans of time: at most `most` of them, whatever the
// length of the cook; when full, neighbours are averaged. Owned by a CoreForecast; pure.
#pragma once

#include <array>
#include <cstddef>
#include <cstdint>
#include <optional>
#include <string>
#include <string_view>

namespace ingle {

class History {
public:
    static constexpr std::size_t most = 128;

    // `t` seconds since the first reading, never back. True: a point was completed.
    bool add(double t, double core, std::optional<double> medium);
    // The core readings so far were not the centre's; the medium's stay.
    void forget_core();

    std::size_t size() const { return size_; }  // completed points
    double spacing_s() const { return spacing_; }
    double end_s() const { return spacing_ * static_cast<double>(size_); }
    // Changes whenever points that were there before are others now.
    std::uint32_t version() const { return version_; }
    float core(std::size_t i) const { return core_[i]; }      // NaN: none was read
    float medium(std::size_t i) const { return medium_[i]; }  // carried over where none was read
    bool has_core(std::size_t i) const { return core_[i] == core_[i]; }
    bool has_medium() const { return knows_medium_; }
    std::size_t cores() const { return cores_; }  // points with a core
    double open_medium() const;                   // newest: of the span that is not complete, else the last
    double newest_core() const { return newest_core_; }
    double newest_t() const { return newest_t_; }

    std::string as_text() const;  // reads back exactly
    // False: not understood, and the history is empty.
    bool from_text(std::string_view text);

private:
    struct Sum {
        double total = 0;
        int count = 0;
        void add(double x) { total += x, ++count; }
    };
    void close(float core, float medium);
    void close_open();
    void halve();

    std::array<float, most> core_{}, medium_{};
    std::size_t size_ = 0, cores_ = 0;
    double spacing_ = 5;
    Sum open_core_, open_medium_;
    double newest_core_ = 0, newest_t_ = 0;
    float last_medium_ = 0;
    bool knows_medium_ = false;
    std::uint32_t version_ = 0;
};

}  // namespace ingle
