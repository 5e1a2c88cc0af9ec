/*
 * Sounder: the coach for the ear, for a hand whose eyes are elsewhere.
 *
 *   in      the coach's snapshots (base/trim_snapshot.h), 20 a second
 *   out     mono samples [FS] for a loudspeaker or headphones; silence until a kind is chosen
 *   kinds   reference  the tone this tape would read at the target, certificate and clock
 *                      included, for beats with the deck's own sound
 *           beat       600 Hz, and beside it the same with the deck's error enlarged ten times:
 *                      6 beats a second at 0.1 %, 1.2 at 0.02 %; far off, two notes of which the
 *                      moving one is the higher when the deck is fast
 *           guide      ticks: 8 a second from far off, 1 at the tolerance; high = fast, low =
 *                      slow; a steady note = there, a fifth joins in when the final reading
 *                      stands; a soft low tick now and then = no reading; soft low pairs = stop
 *                      and look first
 *   others  azimuth, level and balance sound alike: high = right late, louder; 5 us and 0.5 dB
 *           beat like 0.1 % of speed; they have no reference tone
 *   clicks  none: every level moves in about 20 ms, every frequency too, phases run on
 *   thread  one sounder, one thread at a time
 *   rt      nothing but _create allocates, locks or calls the system
 */
#ifndef ES_TASK_SOUND_H
#define ES_TASK_SOUND_H

#include "evenspool/base/status.h"
#include "evenspool/base/trim_snapshot.h"

/* Peak [FS]; no louder whatever is asked for (-12 dBFS). While one kind follows another, both may
 * be heard for 50 ms: up to half as much again. */
#define ES_SOUNDER_CEILING 0.25
#define ES_SOUNDER_BEAT_HZ 600.0
#define ES_SOUNDER_ENLARGED 10.0
#define ES_SOUNDER_SLOW_HZ 330.0 /* ticks, a fifth and more apart */
#define ES_SOUNDER_FAST_HZ 880.0
#define ES_SOUNDER_THERE_HZ 587.0
#define ES_SOUNDER_SOFT_HZ 220.0

typedef enum es_sounder_kind {
    ES_SOUNDER_NONE,
    ES_SOUNDER_REFERENCE,
    ES_SOUNDER_BEAT,
    ES_SOUNDER_GUIDE,
    ES_SOUNDER_KIND_COUNT
} es_sounder_kind;

typedef struct es_sounder es_sounder;

/* rate_hz 8000 .. 384000, of the output. ES_ERR_ARG, ES_ERR_NOMEM; *out is NULL on error. */
es_status es_sounder_create(double rate_hz, es_sounder **out);
void es_sounder_destroy(es_sounder *sounder);

/* What is to be heard and how loud: peak level [FS], 0 .. ES_SOUNDER_CEILING, cut to that; not a
 * number, or a kind out of range: silence. */
void es_sounder_set(es_sounder *sounder, es_sounder_kind kind, double level);

/* The latest state of things. */
void es_sounder_steer(es_sounder *sounder, const es_trim_snapshot *snapshot);

/* Writes the next `frames` samples. Any block size gives the same sound. */
void es_sounder_render(es_sounder *sounder, float *mono, size_t frames);

/* "none", "reference", "beat", "guide"; "" beyond. ES_ERR_ARG: no kind of that name. */
const char *es_sounder_kind_name(es_sounder_kind kind);
es_status es_sounder_kind_from_name(const char *name, es_sounder_kind *out);

#endif
