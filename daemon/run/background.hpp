// Work that may hang for minutes (a mail server that never answers, a card that takes no byte) and that
// nobody waits for while the kitchen is watched; at the end of the program for so long and no longer. Any
// thread.
#pragma once

#include <condition_variable>
#include <functional>
#include <memory>
#include <mutex>

#include "drivers/reading/clock.hpp"

namespace ingle {

class Background {
public:
    void run(std::function<void()> work);  // on a thread of its own; must not throw
    bool wait(Span limit);                 // false: some of it still runs

private:
    struct Shared {
        std::mutex mutex;
        std::condition_variable changed;
        int running = 0;
    };
    std::shared_ptr<Shared> shared_ = std::make_shared<Shared>();
};

}  // namespace ingle
