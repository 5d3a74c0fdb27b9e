// Asks in the terminal, where there is one.
#pragma once

#include <iosfwd>
#include <string>

namespace ingle::cli {

bool somebody_to_ask();  // standard input is a terminal

class Questions {
public:
    Questions(std::ostream& out, bool asks) : out_(out), asks_(asks) {}
    bool asks() const { return asks_; }
    // `otherwise` where nothing is typed, or where nobody is asked. Throws
    // Failure at the end of the input.
    std::string ask(std::string const& question, std::string const& otherwise = "");
    void say(std::string const& text);

private:
    std::ostream& out_;
    bool asks_;
};

}  // namespace ingle::cli
