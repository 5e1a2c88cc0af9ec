/* The filters of signal/ as built, one JSON document, for test_of_filters.py. */
#include "evenspool/signal/flutter.h"
#include "evenspool/signal/tone_tracker.h"
#include "signal/biquad.h"
#include "signal/fir.h"
#include "signal/weighting.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>

#define IMPULSE_READINGS 24000 /* 20 s: the slowest pole has died away */

static void print_sections(const es_biquad *s, size_t count)
{
    printf("[");
    for (size_t i = 0; i < count; i++)
        printf("%s[%.17g, %.17g, %.17g, 1, %.17g, %.17g]", i ? ", " : "", s[i].b0, s[i].b1, s[i].b2,
               s[i].a1, s[i].a2);
    printf("]");
}

static void print_weighting(void)
{
    es_biquad sections[ES_WEIGHTING_SECTIONS];
    es_weighting_fill(sections);
    printf("\"readings_hz\": %.17g, \"weighting\": ", ES_READINGS_HZ);
    print_sections(sections, ES_WEIGHTING_SECTIONS);
    printf(",\n\"weighting_db\": [");
    for (int i = 0; i <= 330; i++) {
        double rate_hz = 0.1 * pow(10.0, i / 100.0);
        printf("%s[%.17g, %.17g]", i ? ", " : "", rate_hz, es_weighting_db(rate_hz));
    }
    printf("],\n");
}

/* What the meter itself does to an impulse. */
static int print_impulse(void)
{
    es_flutter *meter;
    if (es_flutter_create(&meter) != ES_OK)
        return 1;
    printf("\"impulse\": [");
    for (int i = 0; i < IMPULSE_READINGS; i++)
        printf("%s%.12g", i ? ", " : "", es_flutter_push(meter, i == 0, 0));
    printf("],\n");
    es_flutter_destroy(meter);
    return 0;
}

static void print_butterworth(void)
{
    static const double corners_hz[] = {0.1, 1.0, 10.0, 200.0, 550.0};
    printf("\"butterworth\": [");
    for (int order = 1; order <= 4; order++)
        for (size_t i = 0; i < sizeof corners_hz / sizeof *corners_hz; i++)
            for (int high = 0; high < 2; high++) {
                es_biquad s[2];
                double corner_hz = corners_hz[i];
                size_t count = high ? es_butterworth_high(s, order, corner_hz, ES_READINGS_HZ)
                                    : es_butterworth_low(s, order, corner_hz, ES_READINGS_HZ);
                printf("%s{\"order\": %d, \"corner_hz\": %g, \"high\": %d, \"sections\": ",
                       order == 1 && i == 0 && !high ? "" : ",\n", order, corner_hz, high);
                print_sections(s, count);
                printf("}");
            }
    printf("],\n");
}

static int print_kaiser(void)
{
    static const double cases[][3] = {/* attenuation [dB], transition, cutoff [cycles/sample] */
                                      {50.0, 0.05, 0.2},  {60.0, 0.02, 0.1}, {70.0, 0.1, 0.25},
                                      {84.0, 0.01, 0.05}, {84.0, 0.08, 0.3}, {100.0, 0.03, 0.15},
                                      {120.0, 0.05, 0.4}};
    printf("\"kaiser\": [");
    for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
        double attenuation_db = cases[i][0], transition = cases[i][1], cutoff = cases[i][2];
        size_t count = es_kaiser_taps(attenuation_db, transition);
        double *taps = malloc(count * sizeof *taps);
        if (!taps)
            return 1;
        es_fir_lowpass(taps, count, cutoff, attenuation_db);
        printf("%s{\"attenuation_db\": %g, \"transition\": %g, \"cutoff\": %g, \"beta\": %.17g,"
               " \"taps\": [",
               i ? ",\n" : "", attenuation_db, transition, cutoff, es_kaiser_beta(attenuation_db));
        for (size_t k = 0; k < count; k++)
            printf("%s%.17g", k ? ", " : "", taps[k]);
        printf("], \"window\": [");
        for (int k = 0; k <= 20; k++)
            printf("%s%.17g", k ? ", " : "",
                   es_kaiser(k / 10.0 - 1.0, es_kaiser_beta(attenuation_db)));
        printf("]}");
        free(taps);
    }
    printf("]");
    return 0;
}

int main(void)
{
    printf("{");
    print_weighting();
    if (print_impulse() != 0)
        return 1;
    print_butterworth();
    if (print_kaiser() != 0)
        return 1;
    printf("}\n");
    return 0;
}
