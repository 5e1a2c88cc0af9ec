/* |actual - expected| <= tolerance, written so that NaN on either side fails. */
#ifndef ES_TESTS_NEAR_H
#define ES_TESTS_NEAR_H

#include <math.h>

#define assert_near(actual, expected, tolerance)                                                   \
    do {                                                                                           \
        double a_ = (actual), e_ = (expected), t_ = (tolerance);                                   \
        if (!(fabs(a_ - e_) <= t_))                                                                \
            fail_msg("%s = %.12g, expected %.12g +- %.3g", #actual, a_, e_, t_);                   \
    } while (0)

#endif
