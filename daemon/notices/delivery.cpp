#include "daemon/notices/delivery.hpp"

#include <algorithm>
#include <utility>

#include "daemon/notices/lane.hpp"

namespace ingle {

Delivery::Delivery(std::vector<Channel> channels, Outbox& outbox, OnTrouble on_trouble, DeliveryTiming timing,
                   Clocks clocks)
    : outbox_(outbox) {
    for (auto& channel : channels)
        lanes_.push_back(std::make_unique<Lane>(std::move(channel), outbox, on_trouble, timing, clocks));
}

Delivery::~Delivery() {
    stop();
}

void Delivery::resume() {
    for (auto const& sent : outbox_.sent_lately())
        for (auto const& lane : lanes_) lane->sent_before(sent);
    auto const all = outbox_.pending();
    for (auto const& lane : lanes_) lane->take_up(all);
    for (auto const& pending : all)
        if (std::ranges::find(lanes_, pending.channel, [](auto const& each) { return each->name(); }) ==
            lanes_.end())
            outbox_.failed(pending.channel, pending.notice.id, "there is no such channel any more", true);
}

void Delivery::prove() {
    for (auto const& lane : lanes_) lane->prove();
}

void Delivery::send(std::size_t channel, Notice notice) {
    if (channel < lanes_.size()) lanes_[channel]->add(std::move(notice));
}

void Delivery::went_round(std::function<Notice()> const& beat) {
    for (auto const& lane : lanes_) lane->went_round(beat);
}

void Delivery::attended(std::int64_t alarm) {
    for (auto const& lane : lanes_) lane->with_notifier([&](Notifier& each) { each.attended(alarm); });
}

void Delivery::show_state(View const& view) {
    for (auto const& lane : lanes_) lane->with_notifier([&](Notifier& each) { each.show_state(view); });
}

void Delivery::retire() {
    for (auto const& lane : lanes_) lane->with_notifier([](Notifier& each) { each.retire(); });
}

void Delivery::test(std::size_t channel, Notice notice, OnTested reply) {
    if (channel >= lanes_.size())
        reply(Attempt::give_up("there is no such channel"));
    else
        lanes_[channel]->test(std::move(notice), std::move(reply));
}

void Delivery::clock_was_set() {
    for (auto const& lane : lanes_) lane->clock_was_set();
}

void Delivery::look_again() {
    for (auto const& lane : lanes_) lane->look_again();
}

std::vector<Delivery::ChannelState> Delivery::channels() const {
    std::vector<ChannelState> out;
    for (auto const& lane : lanes_) out.push_back(lane->state());
    return out;
}

std::vector<Delivery::Waiting> Delivery::waiting() const {
    std::vector<Waiting> out;
    for (auto const& lane : lanes_) lane->waiting(out);
    return out;
}

void Delivery::stop() {
    for (auto const& lane : lanes_) lane->request_stop();
    for (auto const& lane : lanes_) lane->join();
}

}  // namespace ingle
