// Keeps a broker's picture of the kitchen up to date and hands notices to it, on a thread of its own: a
// broker that is away, hangs or refuses holds up nobody. What it keeps is said to be live only while it is.
#pragma once

#include <chrono>
#include <memory>
#include <stop_token>
#include <string>

#include "daemon/model/view.hpp"
#include "daemon/notices/mqtt/session.hpp"
#include "daemon/notices/notifier.hpp"

namespace ingle::mqtt {

class Publisher {
public:
    // `topic`: of the channel, without a '/' at its end; `every`: how soon a changed temperature is
    // published.
    Publisher(Broker broker, std::string topic, std::chrono::milliseconds every);
    ~Publisher();  // a thread that hangs in the system's look-up of a name is left to itself
    Publisher(Publisher const&) = delete;
    Publisher& operator=(Publisher const&) = delete;

    // Waits at most attempt_limit for the broker to confirm it; without a payload, to let us in.
    Attempt hand_over(std::string payload, std::stop_token const& stop);
    void show(View const& view);  // any thread; never blocks
    void retire();                // says that it is off, and is silent from then on. Any thread; never blocks

private:
    struct Shared;
    class Loop;
    void begin();  // with the lock held

    std::shared_ptr<Shared> shared_;
};

}  // namespace ingle::mqtt
