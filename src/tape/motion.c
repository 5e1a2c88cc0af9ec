#include "tape/motion.h"

#include "tape/wave.h"

#include <math.h>
#include <string.h>

enum { STREAM_OFFSETS = 1, STREAM_RANDOM, STREAM_SCRAPE };

/* --- start ------------------------------------------------------------------------ */

static es_marks marks_of(const es_scenario *s, double rate_hz)
{
    es_marks m;
    m.start = llround(s->lead_in_s * rate_hz);
    m.still = llround((s->length_s - s->lead_out_s) * rate_hz);
    m.steady = m.start + llround(s->start_ramp_s * rate_hz);
    m.stopping = m.still - llround(s->stop_ramp_s * rate_hz);
    if (m.stopping < m.steady) /* rounding in a very short capture */
        m.stopping = m.steady;
    return m;
}

static int flutters(const double *peak)
{
    for (int h = 0; h < ES_SCENARIO_HARMONICS; h++)
        if (peak[h] > 0.0)
            return 1;
    return 0;
}

/* Each part draws its phases whether it flutters or not, so that one setting leaves the others'
 * phases as they were. */
static void start_parts(es_motion *m)
{
    es_rng rng = es_rng_seeded(m->scenario->seed, STREAM_OFFSETS);
    for (int part = ES_PART_CAPSTAN; part < ES_SCENARIO_PARTS; part++) {
        es_turning turning = {.part = (es_part)part};
        for (int h = 0; h < ES_SCENARIO_HARMONICS; h++)
            turning.offset[h] = es_rng_uniform(&rng);
        if (flutters(m->scenario->flutter[part]))
            m->parts[m->part_count++] = turning;
    }
}

static double play_seconds(const es_motion *m, int64_t frame)
{
    int64_t since = frame - m->marks.start;
    return since > 0 ? (double)since / m->true_rate_hz : 0.0;
}

/* Everything slow but the trimmer. */
static double slow_at(const es_motion *m, int64_t frame)
{
    const es_scenario *s = m->scenario;
    double minutes = play_seconds(m, frame) / 60.0;
    double warm = s->warm_up != 0.0 ? s->warm_up * exp(-minutes / s->warm_up_min) : 0.0;
    return s->speed_error + s->drift_per_min * minutes + warm;
}

void es_motion_start(es_motion *m, const es_scenario *s, double rate_hz, const es_gauss *gauss)
{
    memset(m, 0, sizeof *m);
    m->scenario = s;
    m->gauss = gauss;
    m->true_rate_hz = rate_hz * (1.0 + s->clock_error);
    m->marks = marks_of(s, rate_hz);
    m->trimmer = es_trimmer_as_found(&s->trimmer);
    m->keep = exp(-ES_CHUNK / (m->true_rate_hz * s->motor_s));
    m->slow = slow_at(m, 0);
    start_parts(m);
    es_band_start(&m->random_band, s->random.rms, s->random.low_hz, s->random.high_hz,
                  m->true_rate_hz, es_rng_seeded(s->seed, STREAM_RANDOM), gauss);
    es_band_start(&m->scrape_band, s->scrape.rms, s->scrape.low_hz, s->scrape.high_hz,
                  m->true_rate_hz, es_rng_seeded(s->seed, STREAM_SCRAPE), gauss);
}

double es_motion_settled(const es_motion *m, int64_t frame)
{
    return slow_at(m, frame) + es_trimmer_wanted(&m->trimmer);
}

/* --- ramp ------------------------------------------------------------------------- */

static double cube(double x)
{
    return x * x * x;
}

/* Share of full speed in the middle of the step after this frame. A motor gains speed quickly at
 * first, then ever less; running down is the same backwards. */
static double ramp_at(const es_marks *m, int64_t frame)
{
    if (frame < m->start || frame >= m->still)
        return 0.0;
    if (frame < m->steady) {
        double left = ((double)(m->steady - frame) - 0.5) / (double)(m->steady - m->start);
        return 1.0 - cube(left);
    }
    if (frame >= m->stopping) {
        double gone = ((double)(frame - m->stopping) + 0.5) / (double)(m->still - m->stopping);
        return 1.0 - cube(gone);
    }
    return 1.0;
}

static double fill_ramp(es_motion *m, int64_t first)
{
    double sum = 0.0;
    int steady = first >= m->marks.steady && first + ES_CHUNK <= m->marks.stopping;
    for (int i = 0; i < ES_CHUNK; i++) {
        m->ramp[i] = steady ? 1.0 : ramp_at(&m->marks, first + i);
        sum += m->ramp[i];
    }
    return sum / ES_CHUNK;
}

/* --- flutter ---------------------------------------------------------------------- */

/* Adds peak x sin(2 pi (from + i step)), i = 1/2, 3/2 ... */
static void add_sine(double *to, double peak, double from, double step)
{
    double begin = from + 0.5 * step;
    for (int i = 0; i < ES_CHUNK; i++)
        to[i] += peak * es_sine(es_wrap(begin + (double)i * step));
}

/* The part turns as the tape moves: its rate follows the speed, a reel's also its pack. */
static void add_part(es_motion *m, es_turning *t, double pull)
{
    const es_scenario *s = m->scenario;
    double played = s->tape_position_min * 60.0 * s->geometry.speed_m_s + m->moved_m;
    t->rate_hz = es_part_rate(&s->geometry, t->part, played) * pull;
    double step = t->rate_hz / m->true_rate_hz;
    for (int h = 0; h < ES_SCENARIO_HARMONICS; h++) {
        double times = h + 1.0, peak = s->flutter[t->part][h];
        if (peak > 0.0)
            add_sine(m->flutter, peak, es_wrap(times * t->turns) + t->offset[h], times * step);
    }
    t->turns += step * ES_CHUNK;
}

static void add_wobbles(es_motion *m, int64_t first)
{
    for (int i = 0; i < ES_SCENARIO_WOBBLES; i++) {
        const es_scenario_wobble *w = &m->scenario->wobble[i];
        double step = w->rate_hz / m->true_rate_hz;
        if (w->peak > 0.0)
            add_sine(m->flutter, w->peak, es_wrap((double)first * step), step);
    }
}

static void fill_flutter(es_motion *m, int64_t first, double pull)
{
    es_band_fill(&m->random_band, m->gauss, m->random, ES_CHUNK);
    es_band_fill(&m->scrape_band, m->gauss, m->scrape, ES_CHUNK);
    for (int i = 0; i < ES_CHUNK; i++)
        m->flutter[i] = m->random[i] + m->scrape[i];
    for (size_t i = 0; i < m->part_count; i++)
        add_part(m, &m->parts[i], pull);
    add_wobbles(m, first);
}

void es_motion_chunk(es_motion *m, int64_t first)
{
    es_trimmer_follow(&m->trimmer, m->keep);
    double from = m->slow, to = slow_at(m, first + ES_CHUNK) + m->trimmer.reached, sum = 0.0;
    double running = fill_ramp(m, first);
    fill_flutter(m, first, running * (1.0 + 0.5 * (from + to)));
    for (int i = 0; i < ES_CHUNK; i++) {
        double slow = from + (to - from) * (((double)i + 0.5) / ES_CHUNK);
        m->speed[i] = m->ramp[i] * (1.0 + slow) * (1.0 + m->flutter[i]);
        sum += m->speed[i];
    }
    m->slow = to;
    m->moved_m += sum * m->scenario->geometry.speed_m_s / m->true_rate_hz;
}
