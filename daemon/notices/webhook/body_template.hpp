// A text of the cook's own with what a notice says in its places, for services that want another body than
// Ingle's. Pure.
#pragma once

#include <string>
#include <string_view>

#include "daemon/notices/notice.hpp"

namespace ingle::webhook {

enum class Escaping { none, json, header };  // json: as within "..."; header: on one line

// {text}, {subject}, {alarm}, {priority}, {kind}, {id}, {since}, {at}, {token}; all else as it stands, other
// braces too.
std::string fill(std::string_view text, Notice const& notice, std::string_view token, Escaping escaping);
// The first {word} that means nothing; "" = there is none.
std::string unknown_place(std::string_view text);
bool names_token(std::string_view text);
std::string known_places();  // "{text}, {subject}, ..."

}  // namespace ingle::webhook
