// `ingle`, kept running: a line of standard input is one command line, its words apart by tabs; what it says
// comes back as its exit status and the lengths of its output and of its errors, and then these. By the
// program's own run_program, so that what it makes once in a process (the forecast's tables) is made once.
#include <iostream>
#include <sstream>
#include <string>
#include <vector>

#include "daemon/wiring/state_folder.hpp"
#include "tools/cli/output/shown_text.hpp"
#include "tools/cli/past/kitchen_zone.hpp"
#include "tools/cli/program/command.hpp"
#include "tools/cli/time/local_time.hpp"

namespace {

std::vector<std::string> words_of(std::string const& line) {
    std::vector<std::string> words{"ingle"};
    std::istringstream in(line);
    for (std::string word; std::getline(in, word, '\t');) words.push_back(word);
    return words;
}

int run(std::vector<std::string> words, std::ostream& to) {
    std::vector<char*> argv;
    for (auto& word : words) argv.push_back(word.data());
    ingle::cli::ShownText shown(to);
    std::ostream out(&shown);
    ingle::cli::Context context{ingle::default_state_folder(), out, [](ingle::cli::Context const& here) {
                                    ingle::cli::tell_times_in(ingle::cli::kitchen_zone(here));
                                }};
    return ingle::cli::run_program(static_cast<int>(argv.size()), argv.data(), context);
}

}  // namespace

int main() {
    for (std::string line; std::getline(std::cin, line);) {
        std::ostringstream out, errors;
        auto* const own = std::cerr.rdbuf(errors.rdbuf());
        int const status = run(words_of(line), out);
        std::cerr.rdbuf(own);
        auto const said = out.str(), wrong = errors.str();
        std::cout << status << ' ' << said.size() << ' ' << wrong.size() << '\n'
                  << said << wrong << std::flush;
    }
}
