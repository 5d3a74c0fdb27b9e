#include "drivers/serial_line/source.hpp"

#include <algorithm>
#include <cmath>

namespace ingle {
namespace {

constexpr Span together{20};             // readings this close came in one piece, whatever the adapter did
constexpr std::size_t labels_kept = 12;  // enough to see a misspelling

// Self-tests print zeros, in whatever unit: two of them agree about nothing.
bool is_zero(double celsius) {
    return celsius == 0.0 || celsius == (0.0 - 32.0) * 5.0 / 9.0;
}

}  // namespace

SerialSource::SerialSource(std::vector<SourceChannel> channels, Comma comma)
    : channels_(std::move(channels)), comma_(comma), last_given_(channels_.size()) {
    opened();
}

void SerialSource::opened() {
    lines_.restart();
    pending_.assign(channels_.size(), std::nullopt);
    settled_.assign(channels_.size(), false);
    first_line_.reset();
    last_byte_.reset();
    labels_.clear();
    unusable_ = binary_ = 0;
    without_line_ = 0;
    told_unusable_ = understood_ = false;
}

SerialSource::Heard SerialSource::bytes(Instant at, std::string_view bytes) {
    Heard heard;
    if (bytes.empty()) return heard;
    last_byte_ = at;
    without_line_ += bytes.size();
    for (auto const& text : lines_.push(bytes)) line(at, text, heard);
    mark_bursts(heard);
    return heard;
}

void SerialSource::line(Instant at, std::string const& text, Heard& heard) {
    without_line_ = 0;
    auto const said = decode_line(text, comma_);
    if (said.says == LineSays::nothing) return;
    if (!first_line_) first_line_ = at;
    bool any = false;
    for (std::size_t i = 0; i < channels_.size(); ++i) {
        auto const value = value_of(said, channels_[i].name, channels_[i].unit);
        if (!value) continue;
        any = true;
        settle(i, Reading{at, *value, {}, {}, false}, heard);
    }
    for (auto const& item : said.items)
        if (labels_.size() < labels_kept)
            labels_.insert(item.label.empty() ? std::to_string(item.position) : item.label);
    if (any) {
        unusable_ = binary_ = 0;
        told_unusable_ = false;
        understood_ = true;
        return;
    }
    ++unusable_;
    if (said.says == LineSays::binary) ++binary_;
    last_unusable_ = text;
    understood_ = said.says == LineSays::values;
    if (unusable_ >= unusable_limit && !told_unusable_) {
        told_unusable_ = true;
        heard.events.emplace_back("not-understandable", silence(0, at, Span::max()).reason);
    }
}

void SerialSource::settle(std::size_t index, Reading reading, Heard& heard) {
    if (settled_[index] || reading.at - *first_line_ >= settle_time) {
        settled_[index] = true;
        pending_[index].reset();
        heard.readings.emplace_back(index, std::move(reading));
        return;
    }
    if (!reading.ok()) return;
    auto const before = std::exchange(pending_[index], reading);
    if (!before || is_zero(reading.celsius()) || std::abs(before->celsius() - reading.celsius()) > agreement)
        return;
    settled_[index] = true;
    heard.readings.emplace_back(index, *before);
    heard.readings.emplace_back(index, std::move(reading));
    pending_[index].reset();
}

void SerialSource::mark_bursts(Heard& heard) {
    for (auto& given : heard.readings) {
        auto const index = given.first;
        auto const at = given.second.at;
        auto const same = std::ranges::count_if(heard.readings, [index, at](auto const& other) {
            return other.first == index && other.second.at == at;
        });
        given.second.burst = same > 1 || (last_given_[index] && at - *last_given_[index] < together);
    }
    for (auto const& [index, reading] : heard.readings) last_given_[index] = reading.at;
}

Fault SerialSource::silence(std::size_t index, Instant now, Span limit) const {
    if (!last_byte_) return {FaultKind::no_reply, "the port is open, but nothing arrives"};
    if (now - *last_byte_ >= limit)
        return {FaultKind::no_reply,
                "nothing has arrived for " + std::to_string((now - *last_byte_).count() / 1000) + " s"};
    if (without_line_ > LineAssembler::longest)
        return {FaultKind::garbled, "the source talks, but never ends a line: check speed and parity"};
    if (binary_ * 2 > unusable_)
        return {FaultKind::garbled,
                "the source talks, but not understandably: check speed and parity (last line " +
                    bytes_in_quotes(last_unusable_) + ")"};
    if (understood_ || (!labels_.empty() && unusable_ < unusable_limit)) {
        if (labels_.contains(channels_[index].name)) {
            bool const just_heard = !settled_[index] && pending_[index].has_value();
            return {FaultKind::no_reply,
                    "lines arrive, and channel \"" + channels_[index].name + "\" " +
                        (just_heard ? "is just being heard: a value counts once the next one agrees with it, "
                                      "or after 2.5 s"
                                    : "was in some of them, but is not in the newest")};
        }
        std::string names;
        for (auto const& label : labels_) names += (names.empty() ? "" : ", ") + label;
        return {FaultKind::no_reply, "lines arrive, but none holds channel \"" + channels_[index].name +
                                         "\"; they hold " + names +
                                         " (a misspelt channel, or another program reads this port too)"};
    }
    return {FaultKind::garbled,
            "the source talks, but not understandably: check speed and parity, and whether "
            "another program reads this port (last line " +
                bytes_in_quotes(last_unusable_) + ")"};
}

}  // namespace ingle
