// A token or a password. It stands in a file of its own or in an environment variable, never in a kitchen
// file, which names the place only: whoever may read the kitchen file, its copies and the logbook does not
// learn it.
#pragma once

#include <string>
#include <string_view>

#include "drivers/api/options.hpp"

namespace ingle {

struct SecretPlace {
    std::string file, variable;
    bool named() const { return !file.empty() || !variable.empty(); }
};

struct Secret {
    std::string text;          // empty: there is none, and `wrong` says why, unless no place is named
    std::string wrong, right;  // without the secret
    bool unknowable = false;   // the file is there, and not for this user to read
};

// The first line of the file, or the variable's value. Refused: a file that others than its owner and group
// can read or write, an empty secret, control characters (they could end a header), more than 4096 bytes.
Secret read_secret(SecretPlace const& place);

// The place that the keys STEM-file and STEM-env name; stem: "token", "password".
SecretPlace secret_place(Options const& options, std::string const& stem);

}  // namespace ingle
