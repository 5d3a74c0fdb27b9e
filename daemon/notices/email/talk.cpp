#include "daemon/notices/email/talk.hpp"

#include <charconv>

namespace ingle::email {
namespace {

std::string in_seconds(Talk::Moment::duration span) {
    return std::to_string(std::chrono::round<std::chrono::seconds>(span).count()) + " s";
}

}  // namespace

std::string_view Talk::missing(Step step) {
    switch (step) {
        case Step::connection:
            return "took no connection";
        case Step::encryption:
            return "did not begin to encrypt";
        case Step::greeting:
            return "took the connection, but sent no greeting";
        case Step::hello:
            return "did not answer to our greeting (EHLO)";
        case Step::login:
            return "did not answer to user and password (AUTH)";
        case Step::sender:
            return "did not answer to the sender (MAIL)";
        case Step::addressee:
            return "did not answer to an addressee (RCPT)";
        case Step::begin:
            return "did not let the mail begin (DATA)";
        case Step::mail:
            return "did not say that it has the mail (after DATA)";
        case Step::visit:
            return "did not answer to a mere visit (NOOP)";
        case Step::goodbye:
            return "did not answer to the farewell (QUIT)";
    }
    return "did not answer";
}

void Talk::enter(Step step, Moment now) {
    step_ = step;
    since_ = now;
    heard_ = 0;
}

void Talk::connected(Moment now) {
    if (step_ == Step::connection) enter(encrypted_at_once_ ? Step::encryption : Step::greeting, now);
}

void Talk::encrypted(Moment now) {
    if (encrypted_at_once_ && step_ == Step::encryption) enter(Step::greeting, now);
}

void Talk::sent(std::string_view line, Moment now) {
    auto const word = line.substr(0, line.find_first_of(" \r\n"));
    auto const open = line.find('<'), shut = line.rfind('>');
    addressee_ =
        word == "RCPT" && shut != line.npos && open < shut ? line.substr(open + 1, shut - open - 1) : "";
    enter(word == "EHLO" || word == "HELO" ? Step::hello
          : word == "STARTTLS"             ? Step::encryption
          : word == "AUTH"                 ? Step::login
          : word == "MAIL"                 ? Step::sender
          : word == "RCPT"                 ? Step::addressee
          : word == "DATA"                 ? Step::begin
          : word == "NOOP"                 ? Step::visit
          : word == "QUIT"                 ? Step::goodbye
                                           : step_,  // a further line of a login
          now);
}

void Talk::heard(std::string_view line) {
    heard_ += line.size();
    int code = 0;
    auto const [end, error] = std::from_chars(line.data(), line.data() + line.size(), code);
    bool const goes_on = end != line.data() + line.size() && *end == '-';
    if (step_ != Step::addressee || error != std::errc() || goes_on || code < 400) return;
    refused_.push_back({addressee_, code});
}

void Talk::sent_mail(Moment now) {
    enter(Step::mail, now);
}

bool Talk::over(Moment now) {
    if (!verdict_.empty()) return true;
    auto const limit = step_ == Step::connection ? patience_.connection
                       : step_ == Step::goodbye  ? patience_.goodbye
                                                 : patience_.answer;
    auto const waited = now - since_;
    if (heard_ > patience_.longest_answer)
        verdict_ = "does not stop talking: an answer of more than " +
                   std::to_string(patience_.longest_answer / 1024) + " kB";
    else if (waited >= limit)
        verdict_ = std::string(missing(step_)) + " within " + in_seconds(waited);
    else if (now - began_ >= patience_.whole)
        verdict_ = "was not through within " + in_seconds(now - began_) + "; at last it " +
                   std::string(missing(step_)) + " within " + in_seconds(waited);
    if (!verdict_.empty() && step_ == Step::mail) verdict_ += "; it may have it all the same";
    return !verdict_.empty();
}

std::string Talk::so_far(Moment now) const {
    return std::string(missing(step_)) + " so far (" + in_seconds(now - since_) + ")";
}

}  // namespace ingle::email
