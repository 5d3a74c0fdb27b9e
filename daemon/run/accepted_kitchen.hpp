// The kitchen that the daemon last went by, kept in the state folder: a start whose kitchen file cannot be
// used (mistakes, half a file after a power cut, a plan that is gone) watches what was watched before.
#pragma once

#include <filesystem>
#include <memory>
#include <mutex>
#include <optional>

#include "config/load.hpp"
#include "daemon/run/background.hpp"

namespace ingle {

class AcceptedKitchen {
public:
    // What is kept is as secret as the kitchen file: it is for the daemon's user only.
    AcceptedKitchen(std::filesystem::path const& state, Background& background);

    // Durable some time later; of several the last. A failure is logged, and nothing to stop for.
    void keep(KitchenTexts texts);

private:
    struct Shared;
    std::shared_ptr<Shared> shared_;
    Background& background_;
};

// What was kept of that kitchen file (not of another one); empty: nothing, or it cannot be read. Blocking.
std::optional<KitchenTexts> accepted_kitchen(std::filesystem::path const& state,
                                             std::filesystem::path const& kitchen);

}  // namespace ingle
