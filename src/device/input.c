#include "device/device.h"

#include "device/line.h"
#include "device/pace.h"
#include "device/sound.h"

#include <math.h>
#include <stdlib.h>

#define RATE_MOST_HZ 384000.0

struct es_input {
    es_line line;
    es_ring *ring;
    es_pace pace; /* the sound system's thread's while the stream runs */
    _Atomic int64_t overflows, silent;
    _Atomic uint64_t stamp_turn; /* odd: the stamp is being written */
    _Atomic int64_t stamp_frames, stamp_ns;
};

es_input_settings es_input_defaults(void)
{
    return (es_input_settings){.latency_s = 0.05, .ring_s = 10.0};
}

static int within(double value, double low, double high)
{
    return value >= low && value <= high; /* false for NaN */
}

static int settings_are_sound(const es_input_settings *s)
{
    return (s->rate_hz == 0.0 || within(s->rate_hz, 8000.0, RATE_MOST_HZ)) && s->channels >= 0 &&
           s->channels <= ES_PLACE_CHANNELS_MOST && within(s->latency_s, 0.005, 1.0) &&
           within(s->ring_s, 0.1, 60.0);
}

/* --- on the sound system's thread ------------------------------------------------------- */

/* A reader that sees a part of the next stamp sees that the turn went on, too. */
static void stamp(es_input *in, int64_t now_ns)
{
    int64_t frames = es_ring_written(in->ring) + es_ring_dropped(in->ring);
    atomic_fetch_add_explicit(&in->stamp_turn, 1, memory_order_relaxed);
    atomic_store_explicit(&in->stamp_frames, frames, memory_order_release);
    atomic_store_explicit(&in->stamp_ns, now_ns, memory_order_release);
    atomic_fetch_add_explicit(&in->stamp_turn, 1, memory_order_release);
}

static void take_block(void *who, const float *frames, size_t count, int overflowed, int64_t now_ns)
{
    es_input *in = who;
    int64_t back;
    int64_t lost = es_pace_block(&in->pace, (int64_t)count, now_ns, &back);
    if (overflowed) {
        atomic_fetch_add_explicit(&in->overflows, 1, memory_order_relaxed);
        es_ring_gap(in->ring, (es_gap){.reasons = ES_GAP_OVERFLOW, .since_frame = -1, .lost = -1});
    }
    es_ring_write(in->ring, frames, count);
    if (lost > 0) {
        int64_t since = es_ring_written(in->ring) - back;
        atomic_fetch_add_explicit(&in->silent, lost, memory_order_relaxed);
        es_ring_gap(
            in->ring,
            (es_gap){.reasons = ES_GAP_SILENT, .since_frame = since > 0 ? since : 0, .lost = lost});
    }
    stamp(in, now_ns);
}

static void begin(void *who, int64_t away_ns)
{
    es_input *in = who;
    es_pace_begin(&in->pace, in->line.rate_hz);
    if (away_ns >= 0)
        es_ring_gap(in->ring, (es_gap){.reasons = ES_GAP_AWAY,
                                       .since_frame = -1,
                                       .lost = llround((double)away_ns * 1e-9 * in->line.rate_hz)});
}

/* --- life ---------------------------------------------------------------------------------- */

static es_status make_ring(es_input *in, double ring_s, es_error *error)
{
    size_t frames = (size_t)(ring_s * in->line.rate_hz);
    es_status status = es_ring_create(in->line.channels, frames, &in->ring);
    if (status != ES_OK)
        return es_fail(error, status, "no-memory", "There is not enough memory for sound.");
    return ES_OK;
}

es_status es_input_open(es_sound *sound, const char *name, const es_input_settings *settings,
                        es_input **out, es_error *error)
{
    *out = NULL;
    es_input_settings usual = es_input_defaults();
    const es_input_settings *s = settings ? settings : &usual;
    if (!settings_are_sound(s))
        return es_fail(error, ES_ERR_ARG, "input-settings",
                       "The settings of the sound input are out of range.");
    es_input *in = calloc(1, sizeof *in);
    if (!in)
        return es_fail(error, ES_ERR_NOMEM, "no-memory", "There is not enough memory for sound.");
    in->line = (es_line){.channels = s->channels,
                         .rate_hz = s->rate_hz,
                         .latency_s = s->latency_s,
                         .who = in,
                         .take = take_block,
                         .begin = begin};
    es_status status = es_line_open(&in->line, sound, name, error);
    if (status == ES_OK)
        status = make_ring(in, s->ring_s, error);
    if (status == ES_OK)
        *out = in;
    else
        es_input_close(in);
    return status;
}

void es_input_close(es_input *in)
{
    if (!in)
        return;
    es_line_close(&in->line);
    es_ring_destroy(in->ring);
    free(in);
}

es_status es_input_start(es_input *in, es_error *error)
{
    return es_line_start(&in->line, error);
}

void es_input_stop(es_input *in)
{
    es_line_stop(&in->line);
}

es_line_state es_input_watch(es_input *in)
{
    return es_line_watch(&in->line);
}

/* --- what came --------------------------------------------------------------------------- */

size_t es_input_take(es_input *in, float *frames, size_t room, es_gap *gap)
{
    return es_ring_read(in->ring, frames, room, gap);
}

size_t es_input_waiting(const es_input *in)
{
    return es_ring_waiting(in->ring);
}

int64_t es_input_frame(const es_input *in)
{
    return es_ring_frame(in->ring);
}

es_line_facts es_input_facts(const es_input *in)
{
    return es_line_facts_of(&in->line);
}

es_input_counts es_input_counts_now(const es_input *in)
{
    return (es_input_counts){.frames = es_ring_written(in->ring) + es_ring_dropped(in->ring),
                             .gaps = es_ring_gaps(in->ring),
                             .overflows =
                                 atomic_load_explicit(&in->overflows, memory_order_relaxed),
                             .dropped = es_ring_dropped(in->ring),
                             .silent = atomic_load_explicit(&in->silent, memory_order_relaxed)};
}

int es_input_stamp(const es_input *in, int64_t *frames, int64_t *when_ns)
{
    uint64_t before, after;
    do {
        before = atomic_load_explicit(&in->stamp_turn, memory_order_acquire);
        *frames = atomic_load_explicit(&in->stamp_frames, memory_order_acquire);
        *when_ns = atomic_load_explicit(&in->stamp_ns, memory_order_acquire);
        after = atomic_load_explicit(&in->stamp_turn, memory_order_relaxed);
    } while (before != after || before % 2 != 0);
    return before > 0;
}
