#include "daemon/notices/sound/speaker.hpp"

#include <alsa/asoundlib.h>

#include <algorithm>
#include <chrono>
#include <memory>
#include <thread>

#include "daemon/notices/sound/pattern.hpp"

namespace ingle::sound {
namespace {

using Clock = std::chrono::steady_clock;
using std::chrono::milliseconds;

constexpr unsigned latency_us = 100'000;
constexpr std::size_t chunk = samples_per_s / 40;
// Handed over no further ahead of what is to be heard now, so that it ends at once when it is to end.
constexpr milliseconds ahead{150}, look_every{20};
constexpr milliseconds patience{2000};  // with a device that takes nothing

struct Close {
    void operator()(snd_pcm_t* pcm) const { snd_pcm_close(pcm); }
};
using Pcm = std::unique_ptr<snd_pcm_t, Close>;

Attempt trouble(std::string const& device, std::string const& what) {
    return Attempt::try_again("the sound device \"" + device + "\": " + what);
}

int open(std::string const& device, Pcm& pcm) {
    snd_pcm_t* raw = nullptr;
    int result = snd_pcm_open(&raw, device.c_str(), SND_PCM_STREAM_PLAYBACK, SND_PCM_NONBLOCK);
    if (result < 0) return result;
    pcm.reset(raw);
    return snd_pcm_set_params(raw, SND_PCM_FORMAT_S16, SND_PCM_ACCESS_RW_INTERLEAVED, 1, samples_per_s, 1,
                              latency_us);
}

__attribute__((format(printf, 5, 6))) void say_nothing(char const*, int, char const*, int, char const*, ...) {
}

}  // namespace

Attempt reach(std::string const& device) {
    Pcm pcm;
    int const result = open(device, pcm);
    return result < 0 ? trouble(device, snd_strerror(result)) : Attempt::delivered();
}

Attempt play(std::string const& device, std::vector<std::int16_t> const& samples,
             std::function<bool()> const& enough) {
    Pcm pcm;
    if (int const result = open(device, pcm); result < 0) return trouble(device, snd_strerror(result));
    auto const began = Clock::now();
    auto moved = began;
    std::size_t at = 0;
    while (at < samples.size()) {
        if (enough()) return snd_pcm_drop(pcm.get()), Attempt::delivered();
        auto const now = Clock::now();
        if (now - moved > patience)
            return snd_pcm_drop(pcm.get()), trouble(device, "it takes nothing any more");
        auto const due = began + milliseconds(static_cast<std::int64_t>(at) * 1000 / samples_per_s) - ahead;
        if (due > now) {
            std::this_thread::sleep_for(std::min<Clock::duration>(due - now, look_every));
            moved = Clock::now();
            continue;
        }
        auto const count = static_cast<snd_pcm_uframes_t>(std::min(chunk, samples.size() - at));
        auto written = snd_pcm_writei(pcm.get(), samples.data() + at, count);
        if (written == -EAGAIN) {
            snd_pcm_wait(pcm.get(), static_cast<int>(look_every.count()));
        } else if (written < 0) {
            int const result = snd_pcm_recover(pcm.get(), static_cast<int>(written), 1);
            if (result < 0) return trouble(device, snd_strerror(result));
        } else {
            at += static_cast<std::size_t>(written);
            moved = Clock::now();
        }
    }
    snd_pcm_drain(pcm.get());  // does not wait, as it was opened so
    auto const end = Clock::now() + patience;
    while (snd_pcm_state(pcm.get()) == SND_PCM_STATE_DRAINING && Clock::now() < end && !enough())
        std::this_thread::sleep_for(look_every);
    return Attempt::delivered();
}

void keep_the_library_quiet() {
    snd_lib_error_set_handler(&say_nothing);
}

}  // namespace ingle::sound
