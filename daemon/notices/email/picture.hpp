// A chart as a PNG: the band as an area, what was read as a line, nothing where nothing was read. Its times
// and temperatures are at its edges. Pure.
#pragma once

#include <string>

#include "daemon/notices/chart.hpp"

namespace ingle::email {

inline constexpr int picture_width = 640, picture_height = 240;

std::string png_of(Chart const& chart);  // "" where it cannot be made

}  // namespace ingle::email
