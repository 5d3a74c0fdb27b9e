// Lines that misbehave as a careless driver would: each stands between exchange_bits and the real lines, so
// that the rig is seen to catch the mistake. A test tool; one thread.
#pragma once

#include <string_view>

#include "drivers/bus/gpio_line.hpp"

namespace ingle::rig {

// Reads after the clock has fallen again: the next bit.
class LateData final : public InPin {
public:
    LateData(OutPin& clock, InPin& data) : clock_(clock), data_(data) {}
    bool get() override {
        clock_.set(false);
        return data_.get();
    }

private:
    OutPin& clock_;
    InPin& data_;
};

// Leaves out the pulse `drop`, or makes one more after the pulse `extra` (counted from 1; 0 = none).
class MiscountedClock final : public OutPin {
public:
    MiscountedClock(OutPin& clock, int drop, int extra) : clock_(clock), drop_(drop), extra_(extra) {}
    void set(bool on) override {
        if (on) ++pulses_;
        if (pulses_ > 0 && pulses_ == drop_) return;
        clock_.set(on);
        if (on || pulses_ == 0 || pulses_ != extra_) return;
        clock_.set(true);
        clock_.set(false);
    }

private:
    OutPin& clock_;
    int drop_, extra_, pulses_ = 0;
};

class UpsideDown final : public OutPin {
public:
    explicit UpsideDown(OutPin& pin) : pin_(pin) {}
    void set(bool on) override { pin_.set(!on); }

private:
    OutPin& pin_;
};

class NeverSet final : public OutPin {
public:
    void set(bool) override {}
};

class Two final : public OutPin {
public:
    Two(OutPin& one, OutPin& other) : one_(one), other_(other) {}
    void set(bool on) override {
        one_.set(on);
        other_.set(on);
    }

private:
    OutPin &one_, &other_;
};

// Chooses the chip and never lets it go.
class Sticky final : public OutPin {
public:
    explicit Sticky(OutPin& pin) : pin_(pin) {}
    void set(bool on) override {
        if (on) pin_.set(true);
    }

private:
    OutPin& pin_;
};

}  // namespace ingle::rig
