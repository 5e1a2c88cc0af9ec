#include "paper/axes.h"

#include "evenspool/base/text.h"
#include "paper/words.h"

#include <math.h>

double es_scale_at(const es_scale *s, double value)
{
    double share = s->logarithmic ? log(value / s->low) / log(s->high / s->low)
                                  : (value - s->low) / (s->high - s->low);
    return s->from + share * (s->to - s->from);
}

double es_scale_held(const es_scale *s, double value)
{
    return es_scale_at(s, fmax(s->low, fmin(value, s->high)));
}

static void add_tick(es_ticks *ticks, double at, int decimals, int sign, int with_number)
{
    if (ticks->count == ES_TICKS_MOST)
        return;
    es_text text = es_text_over(ticks->text[ticks->count], sizeof ticks->text[0]);
    if (with_number)
        es_word_number(&text, at, decimals, sign);
    ticks->at[ticks->count++] = at;
}

/* Smallest of 1, 2, 5 x 10^n that is not below the wish. */
static double round_step(double wish)
{
    double decade = pow(10.0, floor(log10(wish)));
    static const double of[] = {1.0, 2.0, 5.0};
    for (int i = 0; i < 3; i++)
        if (of[i] * decade >= wish * 0.999999)
            return of[i] * decade;
    return 10.0 * decade;
}

static int decimals_of_step(double step)
{
    return (int)fmax(0.0, ceil(-log10(step) - 1e-6));
}

es_ticks es_ticks_linear(double low, double high, size_t most, int sign)
{
    es_ticks ticks = {0};
    double step = round_step((high - low) / (double)most);
    double first = ceil(low / step - 1e-9), last = floor(high / step + 1e-9);
    for (double k = first; k <= last; k += 1.0)
        add_tick(&ticks, k * step, decimals_of_step(step), sign, 1);
    return ticks;
}

es_ticks es_ticks_logarithmic(double low, double high, int all_numbers)
{
    static const int of[] = {1, 2, 5};
    es_ticks ticks = {0};
    for (int decade = (int)floor(log10(low)); decade <= (int)ceil(log10(high)); decade++) {
        for (int i = 0; i < 3; i++) {
            double at = of[i] * pow(10.0, decade);
            if (at >= low * 0.999999 && at <= high * 1.000001)
                add_tick(&ticks, at, decade < 0 ? -decade : 0, 0, all_numbers || i == 0);
        }
    }
    return ticks;
}

/* --- time ---------------------------------------------------------------------------------- */

static double time_step(double wish_s)
{
    static const double of[] = {0.1,   0.2,    0.5,    1.0,    2.0,    5.0,   10.0,
                                15.0,  20.0,   30.0,   60.0,   120.,   300.0, 600.0,
                                900.0, 1800.0, 3600.0, 7200.0, 18000.0};
    for (size_t i = 0; i < sizeof of / sizeof *of; i++)
        if (of[i] >= wish_s)
            return of[i];
    return 36000.0 * ceil(wish_s / 36000.0);
}

static void write_time(es_text *text, double at_s, double step_s, double duration_s)
{
    long s = lround(at_s);
    if (duration_s >= 7200.0)
        es_text_add(text, "%ld:%02ld", s / 3600, s / 60 % 60);
    else if (duration_s >= 120.0)
        es_text_add(text, "%ld:%02ld", s / 60, s % 60);
    else
        es_text_add(text, "%.*f", step_s < 1.0 ? 1 : 0, at_s);
}

es_ticks es_ticks_time(double duration_s, size_t most, const char **unit)
{
    es_ticks ticks = {0};
    double step = time_step(duration_s / (double)most);
    *unit = duration_s >= 7200.0 ? "h:min" : duration_s >= 120.0 ? "min:s" : "s";
    for (double k = 0.0; k * step <= duration_s * 1.000001; k += 1.0) {
        if (ticks.count == ES_TICKS_MOST)
            break;
        es_text text = es_text_over(ticks.text[ticks.count], sizeof ticks.text[0]);
        write_time(&text, k * step, step, duration_s);
        ticks.at[ticks.count++] = k * step;
    }
    return ticks;
}
