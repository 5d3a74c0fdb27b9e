#include "tools/cli/program/questions.hpp"

#include <unistd.h>

#include <algorithm>
#include <iostream>

#include "tools/cli/program/command.hpp"

namespace ingle::cli {

bool somebody_to_ask() {
    return isatty(STDIN_FILENO) != 0;
}

std::string Questions::ask(std::string const& question, std::string const& otherwise) {
    if (!asks_) return otherwise;
    out_ << question << (otherwise.empty() ? "" : " [" + otherwise + "]") << ": " << std::flush;
    std::string answer;
    if (!std::getline(std::cin, answer)) throw Failure("the answers ended early: nothing was done");
    while (answer.ends_with(' ') || answer.ends_with('\r')) answer.pop_back();
    answer.erase(0, std::min(answer.find_first_not_of(' '), answer.size()));
    return answer.empty() ? otherwise : answer;
}

void Questions::say(std::string const& text) {
    if (asks_) out_ << text << "\n";
}

}  // namespace ingle::cli
