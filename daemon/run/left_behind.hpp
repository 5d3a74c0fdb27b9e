// A kitchen file that no longer has what cooks or is held is not taken up (it would be lost without a word),
// nor one that gives two dishes that cook one core probe.
#pragma once

#include "config/settings.hpp"
#include "daemon/model/view.hpp"

namespace ingle {

// Throws std::runtime_error with a sentence: a dish that cooks, the vessel that it is in, or a vessel that a
// person holds otherwise than the file of before (`earlier`) is not in `next`; or a core is in two dishes of
// it that cook, and was not before.
void check_running_cooks(View const& present, Settings const& earlier, Settings const& next);

}  // namespace ingle
