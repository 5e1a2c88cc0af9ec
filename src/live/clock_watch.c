#include "live/clock_watch.h"

#include "evenspool/task/clock.h"
#include "live/clock_watch_inside.h"
#include "live/desk.h"

#include <math.h>
#include <string.h>
#include <time.h>

#define SETTLE_S 1.0 /* a stream that begins comes in fits and starts */
#define TICK_S 0.005
#define GONE_S 10.0
#define ROOM 4096

typedef struct watch {
    const es_clock_ground *ground;
    const es_clock_wish *wish;
    es_clock_result *out;
    es_input *in;
    es_clock *clock;
    double begun_s, settled_s;
    int64_t last_ns;
} watch;

/* --- one look ---------------------------------------------------------------------------------- */

/* Takes what came, for its gaps. 1: there was one. */
static int drain(watch *w)
{
    float frames[ROOM];
    size_t room = ROOM / (size_t)es_input_facts(w->in).channels;
    es_gap gap;
    int lost = 0;
    while (es_input_take(w->in, frames, room, &gap) > 0)
        if (gap.reasons) {
            es_clock_lost(w->clock, gap.since_frame);
            lost = 1;
        }
    return lost;
}

static void look(watch *w, double listened_s)
{
    int64_t frames, when_ns;
    int stamped = es_input_stamp(w->in, &frames, &when_ns); /* before the gaps, see device.h */
    if (drain(w))
        w->settled_s = listened_s + SETTLE_S;
    if (!stamped || when_ns == w->last_ns || listened_s < w->settled_s)
        return;
    w->last_ns = when_ns;
    es_clock_push(w->clock, 1e-9 * (double)when_ns, frames);
}

/* --- the whole time ---------------------------------------------------------------------------- */

static int is_stopped(const watch *w)
{
    return w->wish->stop && w->wish->stop(w->wish->who);
}

static es_status follow(watch *w, es_error *error)
{
    double listened_s = 0.0, all_s = w->wish->seconds + SETTLE_S;
    for (; listened_s < all_s; listened_s = w->ground->now_s(w->ground->who) - w->begun_s) {
        es_line_state state = es_input_watch(w->in);
        look(w, listened_s);
        if (state == ES_LINE_LOST) {
            w->out->lost_s += TICK_S;
            if (es_input_facts(w->in).lost_s > GONE_S)
                return es_fail(error, ES_ERR_DEVICE, "device-gone",
                               "It is gone and did not come back; connect it and measure again.");
        }
        if (is_stopped(w)) {
            w->out->stopped = 1;
            break;
        }
        if (w->wish->progress)
            w->wish->progress(w->wish->who, listened_s, listened_s / all_s);
        w->ground->wait(w->ground->who, TICK_S);
    }
    w->out->listened_s = listened_s;
    return ES_OK;
}

static es_status conclude(watch *w, es_error *error)
{
    es_clock_result *r = w->out;
    r->figures = es_clock_figures_of(w->clock);
    w->ground->reference(w->ground->who, &r->reference);
    if (isnan(r->figures.error_ppm))
        return es_fail(error, ES_ERR_DEVICE, "too-little",
                       "It gave too little without interruption to tell anything (%lld "
                       "interruptions); measure longer, with nothing else at work.",
                       (long long)r->figures.interruptions);
    r->line_u95_ppm = es_clock_u95_ppm(&r->figures, 0.0);
    r->u95_ppm = es_clock_u95_ppm(&r->figures, r->reference.limit_ppm);
    es_clock_say(r);
    return ES_OK;
}

/* ALSA names the devices themselves so; of other systems it can't be told. */
static int is_direct(const es_place *place)
{
    return strcmp(place->system, "ALSA") == 0 && strstr(place->name, "(hw:");
}

static es_status open_input(watch *w, es_error *error)
{
    const es_place *place;
    es_status status = es_sound_find(w->ground->sound, w->wish->input, 1, &place, error);
    if (status != ES_OK)
        return status;
    memcpy(w->out->input, place->name, sizeof w->out->input);
    memcpy(w->out->system, place->system, sizeof w->out->system);
    w->out->direct = is_direct(place);
    status = es_input_open(w->ground->sound, w->wish->input, NULL, &w->in, error);
    if (status != ES_OK)
        return status;
    w->out->rate_hz = es_input_facts(w->in).rate_hz;
    status = es_clock_create(w->out->rate_hz, &w->clock);
    if (status != ES_OK)
        return es_fail(error, status, "no-memory", "There is not enough memory to listen.");
    return es_input_start(w->in, error);
}

es_status es_clock_watch_on(const es_clock_ground *ground, const es_clock_wish *wish,
                            es_clock_result *out, es_error *error)
{
    *out = (es_clock_result){
        .line_u95_ppm = (double)NAN, .u95_ppm = (double)NAN, .clock_ppm = (double)NAN};
    if (!(wish->seconds >= ES_CLOCK_WATCH_LEAST_S && wish->seconds <= ES_CLOCK_WATCH_MOST_S))
        return es_fail(error, ES_ERR_ARG, "seconds", "The time to listen is out of range.");
    watch w = {.ground = ground, .wish = wish, .out = out, .settled_s = SETTLE_S};
    es_status status = open_input(&w, error);
    if (status == ES_OK) {
        w.begun_s = ground->now_s(ground->who);
        ground->reference(ground->who, &out->reference);
        status = follow(&w, error);
    }
    if (status == ES_OK)
        status = conclude(&w, error);
    es_input_close(w.in);
    es_clock_destroy(w.clock);
    return status;
}

static void wait_for(void *who, double seconds)
{
    (void)who;
    struct timespec time = {.tv_nsec = (long)(1e9 * seconds)};
    nanosleep(&time, NULL);
}

es_status es_clock_watch(const es_clock_wish *wish, es_clock_result *out, es_error *error)
{
    es_system_clock clock = {0};
    es_clock_ground ground = {.who = &clock,
                              .now_s = es_system_clock_now_s,
                              .wait = wait_for,
                              .reference = es_system_clock_look};
    es_status status = es_desk_borrow(&ground.sound, error);
    if (status != ES_OK)
        return status;
    status = es_clock_watch_on(&ground, wish, out, error);
    es_desk_return(ground.sound);
    return status;
}
