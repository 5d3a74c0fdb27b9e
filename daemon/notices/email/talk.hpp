// What a mail server is waited for, and for how long: followed by the lines of the conversation. Without I/O
// and without a clock.
#pragma once

#include <chrono>
#include <cstddef>
#include <string>
#include <string_view>
#include <vector>

namespace ingle::email {

// RFC 5321, 4.5.3.2, gives each answer minutes, for servers among themselves, where nobody waits. Here a cook
// must be told through another channel while it is of use; and whoever leaves before 30 s never gets through
// to a server that lets strangers wait, or that thinks over a wrong password.
struct Patience {
    std::chrono::milliseconds connection{10'000};
    std::chrono::milliseconds answer{30'000};  // to each of our lines, and to the mail as a whole
    std::chrono::milliseconds whole{60'000};
    std::chrono::milliseconds goodbye{1'000};  // by then it is known what became of the mail
    std::size_t longest_answer = 64 * 1024;    // bytes
};

class Talk {
public:
    using Moment = std::chrono::steady_clock::time_point;

    Talk(Patience const& patience, bool encrypted_at_once, Moment now)
        : patience_(patience), encrypted_at_once_(encrypted_at_once), began_(now), since_(now) {}

    void connected(Moment now);
    void encrypted(Moment now);
    void sent(std::string_view line, Moment now);  // a command of ours
    void sent_mail(Moment now);                    // a part of the mail
    void heard(std::string_view line);             // of an answer
    bool over(Moment now);                         // it has waited long enough; from then on for ever
    std::string const& verdict() const { return verdict_; }  // "sent no greeting within 30 s"; "" = not over
    std::string so_far(Moment now) const;                    // "sent no greeting so far (12 s)"
    // The addressees that the server did not take, each with its code (RFC 5321, 4.2.3): 450, 552.
    struct Refused {
        std::string address;
        int code;
    };
    std::vector<Refused> const& refused() const { return refused_; }

private:
    enum class Step {
        connection,
        encryption,
        greeting,
        hello,
        login,
        sender,
        addressee,
        begin,
        mail,
        visit,
        goodbye
    };
    static std::string_view missing(Step step);
    void enter(Step step, Moment now);

    Patience patience_;
    bool encrypted_at_once_;
    Moment began_, since_;
    std::size_t heard_ = 0;  // since then
    Step step_ = Step::connection;
    std::string verdict_, addressee_;
    std::vector<Refused> refused_;
};

}  // namespace ingle::email
