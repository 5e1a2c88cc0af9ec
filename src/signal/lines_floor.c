#include "signal/lines_floor.h"

#include <math.h>

#define MOST 160            /* bins looked at for a knot                                  */
#define HALF_OCTAVES 0.35   /* reach of a knot to either side                             */
#define LEAST_REACH 30.0    /* and at least so many independent bins                      */
#define SLOW_PART 0.25      /* of the way from the middle to the middle on log axes  */
#define GUESSES 16          /* pieces of a knot's range for the round before              */
#define ROUNDS 3            /* the first without a guess of the noise's slope          */
#define CLEAR 2.0           /* independent bins beside a line that are masked with it     */
#define LEAST_KNOWN 12.0    /* independent bins without which nothing can be said         */
#define PER_WORTH 2.5       /* neighbouring Hann bins for one free value, by this quantile     */
#define PER_WORTH_APART 1.7 /* bins that don't overlap                                      */
#define QUANTILE 0.65       /* a fifth sharper than the median, and nearly as deaf to lines */
#define NORMAL 0.38532      /* that quantile of the normal distribution */

typedef struct reach {
    size_t low, high, step;
} reach;

/* --- reading ------------------------------------------------------------------- */

static size_t knot_below(const es_lines_floor *f, double place)
{
    size_t i = 0;
    while (i + 2 < f->knots && f->place[i + 1] <= place)
        i++;
    return i;
}

static double between(const es_lines_floor *f, const double *value, double place)
{
    size_t i = knot_below(f, place);
    double part = (place - f->place[i]) / (f->place[i + 1] - f->place[i]);
    part = fmin(1.0, fmax(0.0, part));
    return value[i] + part * (value[i + 1] - value[i]);
}

double es_lines_floor_at(const es_lines_floor *f, double bin)
{
    if (f->knots < 2)
        return f->knots ? exp(f->level[0]) : HUGE_VAL;
    double place = log(bin);
    if (place < f->place[0])
        return exp(f->level[0] + f->low_slope * (place - f->place[0]));
    return exp(between(f, f->level, place));
}

double es_lines_floor_worth(const es_lines_floor *f, double bin)
{
    if (f->knots < 2)
        return f->knots ? f->worth[0] : 1.0;
    return between(f, f->worth, log(bin));
}

/* --- quantile ---------------------------------------------------------------------- */

/* The value that QUANTILE of count > 0 values lie below; reorders them. */
static float quantile(float *v, size_t count)
{
    size_t low = 0, high = count - 1, want = (size_t)(QUANTILE * (double)count);
    while (low < high) {
        float pivot = v[low + (high - low) / 2];
        size_t i = low, j = high;
        for (;; i++, j--) {
            while (v[i] < pivot)
                i++;
            while (v[j] > pivot)
                j--;
            if (i >= j)
                break;
            float t = v[i];
            v[i] = v[j];
            v[j] = t;
        }
        if (want <= j)
            high = j;
        else
            low = j + 1;
    }
    return v[want];
}

/* Quantile over mean of a mean of that many exponential values (Wilson and Hilferty 1931). */
static double quantile_bias(double averages)
{
    double root = 1.0 - 1.0 / (9.0 * averages) + NORMAL / (3.0 * sqrt(averages));
    return root * root * root;
}

/* --- fitting ---------------------------------------------------------------------- */

static reach reach_of(es_lines_band b, double centre)
{
    double spread = exp2(HALF_OCTAVES);
    double low = fmin(centre / spread, centre - LEAST_REACH * b.apart);
    double high = fmax(centre * spread, centre + LEAST_REACH * b.apart);
    reach r = {.low = low > (double)b.low ? (size_t)low : b.low,
               .high = high < (double)b.high ? (size_t)high : b.high};
    r.step = (r.high - r.low) / MOST + 1;
    return r;
}

/* The floor of the round before along a reach, piecewise straight. */
static void guess_along(const es_lines_floor *before, reach r, double *guess)
{
    double piece = (double)(r.high - r.low) / GUESSES;
    for (size_t i = 0; i <= GUESSES; i++)
        guess[i] =
            before->knots ? es_lines_floor_at(before, (double)r.low + piece * (double)i) : 1.0;
}

typedef struct gathered {
    float value[MOST + 1];
    size_t count, masked;
} gathered;

static int is_line(const float *power, size_t at, size_t clear, es_lines_band b, double limit)
{
    size_t left = at > b.low + clear ? at - clear : b.low;
    size_t right = at + clear < b.high ? at + clear : b.high;
    return (double)power[at] > limit || (double)power[left] > limit || (double)power[right] > limit;
}

static void gather(gathered *g, const es_lines_floor *before, const float *power, reach r,
                   es_lines_band b, int masking)
{
    double guess[GUESSES + 1], per_bin = GUESSES / fmax(1.0, (double)(r.high - r.low));
    size_t clear = (size_t)lrint(CLEAR * b.apart);
    double limit = 1.0 + 7.0 / sqrt(b.averages);
    guess_along(before, r, guess);
    g->count = g->masked = 0;
    for (size_t k = r.low; k <= r.high; k += r.step) {
        double at = (double)(k - r.low) * per_bin;
        size_t i = at < GUESSES - 1 ? (size_t)at : GUESSES - 1;
        double expected = guess[i] + (at - (double)i) * (guess[i + 1] - guess[i]);
        if (masking && is_line(power, k, clear, b, limit * expected))
            g->masked++;
        else
            g->value[g->count++] = (float)((double)power[k] / expected);
    }
}

/* Where the bins of a reach speak for the floor: somewhat nearer to its slow end than their middle, since
 * the floor is smooth on logarithmic axes. More of that, and the rounds no longer settle on steep noise. */
static double place_of(reach r)
{
    double low = (double)r.low, high = (double)r.high, middle = 0.5 * (low + high);
    return middle - SLOW_PART * (middle - sqrt(low * high));
}

static void set_knot(es_lines_floor *f, const es_lines_floor *before, const float *power,
                     es_lines_band b, double centre)
{
    gathered g;
    reach r = reach_of(b, centre);
    gather(&g, before, power, r, b, before->knots > 0);
    if (g.count < g.masked) /* the guess is off: lines don't fill half of a range */
        gather(&g, before, power, r, b, 0);
    double place = place_of(r);
    double ratio = (double)quantile(g.value, g.count) / quantile_bias(b.averages);
    double base = before->knots ? es_lines_floor_at(before, place) : 1.0;
    double per_worth = (double)r.step >= 2.0 * b.apart ? PER_WORTH_APART : PER_WORTH;
    if (f->knots && log(place) - f->place[f->knots - 1] < 0.1)
        return; /* the same bins again, as good as */
    f->place[f->knots] = log(place);
    f->level[f->knots] = log(fmax(ratio * base, 1e-300));
    f->worth[f->knots++] = (double)(g.count * r.step) / fmax(b.apart, (double)r.step) / per_worth;
}

/* Slope over the first two octaves of knots; noise of speed falls no faster. That it would rise is not
 * carried on below them: the skirt of a strong line looks so, and slow bumps would stand out as lines. */
static double low_slope_of(const es_lines_floor *f)
{
    double n = 0.0, x = 0.0, y = 0.0, xx = 0.0, xy = 0.0;
    for (size_t i = 0; i < f->knots && f->place[i] < f->place[0] + 1.4; i++) {
        double at = f->place[i] - f->place[0], level = f->level[i];
        n += 1.0, x += at, y += level, xx += at * at, xy += at * level;
    }
    double spread = n * xx - x * x;
    return n < 2.5 ? 0.0 : fmin(0.0, fmax(-3.0, (n * xy - x * y) / spread));
}

void es_lines_floor_fit(es_lines_floor *f, const float *power, es_lines_band b)
{
    f->knots = 0;
    if (b.high <= b.low || (double)(b.high - b.low) < LEAST_KNOWN * b.apart)
        return;
    double from = log(fmax(1.0, (double)b.low)), to = log((double)b.high);
    for (int round = 0; round < ROUNDS; round++) {
        es_lines_floor before = *f;
        f->knots = 0;
        for (size_t i = 0; i < ES_LINES_KNOTS; i++)
            set_knot(f, &before, power, b,
                     exp(from + (to - from) * (double)i / (ES_LINES_KNOTS - 1)));
        f->low_slope = low_slope_of(f);
    }
}
