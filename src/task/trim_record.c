#include "task/trim_record.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

es_status es_trim_record_create(es_trim_record *r)
{
    *r = (es_trim_record){.session = calloc(1, sizeof *r->session), .block_points = 1};
    if (!r->session)
        return ES_ERR_NOMEM;
    double none = (double)NAN;
    r->session->nominal_hz = none;
    r->session->as_found = r->session->as_left = (es_trim_reading){none, none, none, none};
    r->session->course_step_s = 1.0 / ES_TRACE_HZ;
    return ES_OK;
}

void es_trim_record_destroy(es_trim_record *r)
{
    free(r->session);
    r->session = NULL;
}

/* Low and high over both; NaN only where both are. */
static void join(float *low, float *high, float other_low, float other_high)
{
    *low = fminf(*low, other_low);
    *high = fmaxf(*high, other_high);
}

static void halve_course(es_trim_record *r)
{
    es_trim_session *s = r->session;
    for (size_t i = 0; i < ES_COURSE_BLOCKS / 2; i++) {
        s->course_low_percent[i] = s->course_low_percent[2 * i];
        s->course_high_percent[i] = s->course_high_percent[2 * i];
        join(&s->course_low_percent[i], &s->course_high_percent[i],
             s->course_low_percent[2 * i + 1], s->course_high_percent[2 * i + 1]);
    }
    s->course_count = ES_COURSE_BLOCKS / 2;
    s->course_step_s *= 2.0;
    r->block_points *= 2;
    r->in_block = r->block_points;
}

static void add_to_course(es_trim_record *r, float percent)
{
    es_trim_session *s = r->session;
    if (s->course_count == 0 || r->in_block == r->block_points) {
        if (s->course_count == ES_COURSE_BLOCKS)
            halve_course(r);
        r->in_block = 0;
        s->course_low_percent[s->course_count] = s->course_high_percent[s->course_count] =
            (float)NAN;
        s->course_count++;
    }
    size_t last = s->course_count - 1;
    join(&s->course_low_percent[last], &s->course_high_percent[last], percent, percent);
    r->in_block++;
}

void es_trim_record_point(es_trim_record *r, double time_s, double percent)
{
    es_trim_session *s = r->session;
    s->trace_percent[r->trace_next] = (float)percent;
    r->trace_next = (r->trace_next + 1) % ES_TRACE_POINTS;
    if (s->trace_count < ES_TRACE_POINTS)
        s->trace_count++;
    s->trace_from_s = time_s - (double)(s->trace_count - 1) / ES_TRACE_HZ;
    s->duration_s = time_s;
    add_to_course(r, (float)percent);
}

void es_trim_record_copy(const es_trim_record *r, es_trim_session *out)
{
    const es_trim_session *s = r->session;
    *out = *s;
    if (s->trace_count < ES_TRACE_POINTS)
        return;
    size_t tail = ES_TRACE_POINTS - r->trace_next;
    memcpy(out->trace_percent, s->trace_percent + r->trace_next, tail * sizeof(float));
    memcpy(out->trace_percent + tail, s->trace_percent, r->trace_next * sizeof(float));
}
