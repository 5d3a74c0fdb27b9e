// Level and slope of one probe with honest variances: a Kalman filter of the local linear trend. Fixed
// memory and cost; any sampling interval, also an uneven one.
#pragma once

namespace ingle {

class Trend {
public:
    // `slope_walk`: how fast the slope itself wanders, K²/s³ (its variance grows by this every second).
    explicit Trend(double slope_walk) : slope_walk_(slope_walk) {}

    // Takes a sample `dt` seconds after the one before (ignored for the first), with the sensor's standard
    // deviation `noise` in K. Returns the standardised innovation: white with variance 1 if all is as
    // assumed. With the discrete noise used here the steady state is Kalata's alpha-beta filter of tracking
    // index sqrt(slope_walk * dt³) / noise (Kalata 1984).
    double take(double dt, double celsius, double noise);

    // A step was seen: the level is here, what the slope was says nothing any more.
    void jump(double celsius, double noise, double slope_sd, double slope = 0);
    // Something changed, perhaps only the slope: let the next samples say what.
    void loosen(double slope_sd);
    void reset() { *this = Trend(slope_walk_); }

    bool begun() const { return begun_; }
    double level() const { return level_; }  // degC, at the newest sample
    double slope() const { return slope_; }  // K/s
    double level_variance() const { return p11_; }
    double covariance() const { return p12_; }
    double slope_variance() const { return p22_; }
    double slope_walk() const { return slope_walk_; }
    double level_gain() const { return gain_level_; }  // alpha of the newest sample
    double slope_gain() const { return gain_slope_; }  // beta / dt

    template <class Visit>
    void fields(Visit& visit) {
        visit(begun_, level_, slope_, p11_, p12_, p22_, gain_level_, gain_slope_);
    }

private:
    double slope_walk_;
    bool begun_ = false;
    double level_ = 0, slope_ = 0;
    double p11_ = 0, p12_ = 0, p22_ = 0;
    double gain_level_ = 0, gain_slope_ = 0;
};

}  // namespace ingle
