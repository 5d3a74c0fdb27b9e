// Whether the logbook of this start is the one of before.
#pragma once

#include <filesystem>
#include <string>

namespace ingle {

bool same_logbook(std::filesystem::path const& a, std::filesystem::path const& b);

// Before the logbook is opened: a sentence where the state folder knows another one, or where this one is not
// there any more (a card that is not mounted); "" else. What cooked, was held or was timed is in that one.
std::string not_the_logbook_of_before(std::filesystem::path const& state,
                                      std::filesystem::path const& logbook);

}  // namespace ingle
