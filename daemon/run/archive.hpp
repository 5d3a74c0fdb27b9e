// Questions to the logbook, answered on a thread of their own so that a long one delays neither the core nor
// the writer. Owned by the app; asked and answered on the io thread.
#pragma once

#include <exception>
#include <functional>
#include <memory>
#include <string>

#include "daemon/logbook/reader.hpp"
#include "drivers/api/asio.hpp"

namespace ingle {

class Archive {
public:
    Archive(boost::asio::io_context& io, std::string path);
    ~Archive();
    void stop();    // waits for a question that is being answered; idempotent
    void finish();  // waits for all that was asked; idempotent

    // Runs `question` on the archive's thread, then `answer` with its result on the io thread. Result: with
    // an `error`.
    template <class Result>
    void ask(std::function<Result(logbook::Reader&)> question, std::function<void(Result)> answer) {
        boost::asio::post(thread_, [this, question = std::move(question), answer = std::move(answer)] {
            auto result = std::make_shared<Result>();
            try {
                logbook::Reader reader(path_);  // none is held open: the file may become another one
                *result = question(reader);
            } catch (
                std::exception const& failure) {  // no memory for it: the kitchen is watched all the same
                result->error = std::string("cannot be answered: ") + failure.what();
            }
            boost::asio::post(io_, [answer, result] { answer(std::move(*result)); });
        });
    }

private:
    boost::asio::io_context& io_;
    std::string path_;
    boost::asio::thread_pool thread_{1};
};

}  // namespace ingle
