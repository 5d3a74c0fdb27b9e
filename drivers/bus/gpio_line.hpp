// One GPIO line each, held while the object lives. A chip is named by its path or its label (numbers move), a
// line by its offset or its name. Knows nothing of libgpiod: gpio_line_v1.cpp and gpio_line_v2.cpp do, CMake
// picks one. Device threads only: every call is an ioctl. All but destructors throw std::system_error with a
// sentence; where a line is busy, it names the holder.
#pragma once

#include <memory>
#include <string>

namespace ingle {

struct LineAddress {
    std::string chip;  // "/dev/gpiochip0" or a label such as "pinctrl-bcm2835"
    std::string line;  // "11" or "GPIO11"
};

enum class Bias { as_is, pull_up, pull_down };

class OutPin {
public:
    virtual ~OutPin() = default;
    virtual void set(bool on) = 0;
};
class InPin {
public:
    virtual ~InPin() = default;
    virtual bool get() = 0;
};

// Off when made, and switched off before it is given back.
class OutputLine final : public OutPin {
public:
    OutputLine(LineAddress const& address, bool active_low);
    ~OutputLine() override;
    void set(bool on) override;

private:
    struct Impl;
    std::unique_ptr<Impl> impl_;
};

class InputLine final : public InPin {
public:
    InputLine(LineAddress const& address, bool active_low, Bias bias);
    ~InputLine() override;
    bool get() override;

private:
    struct Impl;
    std::unique_ptr<Impl> impl_;
};

}  // namespace ingle
