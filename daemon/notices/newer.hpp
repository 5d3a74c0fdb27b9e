// Whether of two notices the newer one says what somebody needs who never got the older one. The one rule for
// it, of the queue and of the summary. Pure.
#pragma once

#include "daemon/notices/notice.hpp"

namespace ingle {

enum class Newer {
    beside,  // it is of something else: both are told
    in_its_place,
    its_end,  // of an alarm whose begin never came: both are told, as one
};

// Of the alarm that either tells of first; of a notice about several, see Notice::parts.
Newer newer_word(Notice const& newer, Notice const& older);

}  // namespace ingle
