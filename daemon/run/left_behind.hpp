// A kitchen file that no longer has what cooks is not taken up: the cook would be lost without a word.
#pragma once

#include "config/settings.hpp"
#include "daemon/model/view.hpp"

namespace ingle {

// Throws std::runtime_error with a sentence: a dish that cooks, or the vessel that it is in, is not in
// `next`.
void leave_no_cook_behind(View const& present, Settings const& next);

}  // namespace ingle
