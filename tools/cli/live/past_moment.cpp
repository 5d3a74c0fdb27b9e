#include "tools/cli/live/past_moment.hpp"

#include <chrono>

#include "tools/cli/program/command.hpp"
#include "tools/cli/time/local_time.hpp"
#include "tools/cli/time/moment.hpp"

namespace ingle::cli {

std::string past_moment(std::string const& words, std::string& said) {
    auto const now = std::chrono::floor<std::chrono::milliseconds>(std::chrono::system_clock::now());
    auto const when = parse_moment(words, now, Toward::past);
    if (!when.at) throw Failure(when.wrong, wrong_usage);
    // "5 pm" at 4 pm is rather a slip than yesterday's.
    auto const ahead = parse_moment(words, now, Toward::future);
    if (now - *when.at > std::chrono::hours(12) && ahead.at && *ahead.at > now)
        throw Failure(
            "\"" + words + "\" is still to come; of the day before it is \"yesterday " + words + "\"",
            wrong_usage);
    if (*when.at > now) throw Failure("that moment is still to come", wrong_usage);
    said = time_text(*when.at, true, false) + ", " + length_text(seconds(now - *when.at)) + " ago";
    return local_iso(*when.at);
}

void refuse_time_of_day(std::string const& words, std::string const& right) {
    auto const now = std::chrono::floor<std::chrono::milliseconds>(std::chrono::system_clock::now());
    std::string ignored;
    if (moment_of(words, now, Toward::future, ignored))
        throw Failure("\"" + words + "\" is a time, not a length: " + right, wrong_usage);
}

}  // namespace ingle::cli
