// Both ends of a band as they are said on a command line. Pure.
#pragma once

#include <string>
#include <vector>

namespace ingle {

struct BandWords {
    std::string low, high;  // temperatures with units
    std::string wrong;      // a sentence, if there is none
};

// "180 degF" "190 degF"; 180F 190F; 180 to 190 degF; 180-190F. An end without a unit has that of the other.
BandWords read_band(std::vector<std::string> const& words);

}  // namespace ingle
