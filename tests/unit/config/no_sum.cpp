#include "config/quantity.hpp"

ingle::Temperature moved(ingle::Temperature a, ingle::Temperature b) {
#ifdef SUM
    return a + b;
#else
    return a + (b - a);
#endif
}
