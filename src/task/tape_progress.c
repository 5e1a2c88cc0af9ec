/* Reading a test tape while it plays: what is known so far, and input that is missing. */
#include "task/tape_report.h"

#include <string.h>

void es_tape_read_so_far(const es_tape_read *r, es_tape_result *result)
{
    es_tape_level level[ES_TAPE_CHANNELS];
    memset(result, 0, sizeof *result);
    es_tape_report_heard(r, level, result);
}

/* What nobody heard is silence to the finder of markers, so that its time goes on. */
void es_tape_read_gap(es_tape_read *r, size_t frames)
{
    static const float nothing[ES_TAPE_CHUNK];
    const float *right = r->channels == 2 ? nothing : NULL;
    es_marker_find finds[ES_TAPE_FINDS_MOST];
    r->gaps++;
    r->lost += frames;
    while (frames > 0) {
        size_t take = ES_TAPE_CHUNK - (size_t)(r->frames % ES_TAPE_CHUNK);
        take = frames < take ? frames : take;
        es_marker_finder_push(r->finder, nothing, right, 1, take);
        r->listened += take;
        r->frames += take;
        size_t found = r->frames % ES_TAPE_CHUNK
                           ? 0
                           : es_marker_finder_take(r->finder, finds, ES_TAPE_FINDS_MOST);
        for (size_t i = 0; i < found; i++)
            es_tape_course_mark(r, &finds[i]);
        frames -= take;
    }
    if (r->course.running)
        es_tape_step_begin(r);
}

void es_tape_report_gaps(const es_tape_read *r, es_tape_result *result)
{
    es_notes_add(&result->warnings, "input-lost",
                 "The computer lost input %llu time%s, %.2g s as far as is known: what played then "
                 "was not measured. Close other programs, or look at the cable.",
                 (unsigned long long)r->gaps, r->gaps == 1 ? "" : "s",
                 (double)r->lost / r->config.rate_hz);
}
