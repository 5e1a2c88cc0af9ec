#include "json/session_json.h"

#include "evenspool/base/text.h"
#include "json/document.h"
#include "json/trim_json.h"

#include <math.h>

static void write_figures(es_json *json, es_json_part *to, es_adjust adjust,
                          const es_trim_reading *reading)
{
    es_json_number(json, to, "time_s", reading->time_s);
    es_adjust_number(json, to, adjust, "error", reading->error_percent);
    es_adjust_number(json, to, adjust, "u95", reading->u95_percent);
    es_json_number(json, to, "averaged_s", reading->averaged_s);
}

const char *es_session_schema(es_adjust adjust)
{
    return adjust == ES_ADJUST_SPEED ? "evenspool.session/1" : "evenspool.align-session/1";
}

const char *es_trim_reading_schema(es_adjust adjust)
{
    return adjust == ES_ADJUST_SPEED ? "evenspool.reading/1" : "evenspool.align-reading/1";
}

es_status es_trim_reading_to_json(es_adjust adjust, const es_trim_reading *reading,
                                  const char *what, char **out)
{
    *out = NULL;
    es_json *json;
    es_status status = es_json_begin(es_trim_reading_schema(adjust), &json);
    if (status != ES_OK)
        return status;
    if (adjust != ES_ADJUST_SPEED)
        es_json_text(json, es_json_root(json), "adjust", es_adjust_facts_of(adjust)->name);
    es_json_text(json, es_json_root(json), "what", what);
    write_figures(json, es_json_root(json), adjust, reading);
    return es_json_end(json, 1, out);
}

/* Without a reading all of it is unknown: null rather than an object of nulls. */
static void write_reading(es_json *json, es_adjust adjust, const char *key,
                          const es_trim_reading *reading)
{
    if (!isfinite(reading->error_percent)) {
        es_json_null(json, es_json_root(json), key);
        return;
    }
    write_figures(json, es_json_object(json, es_json_root(json), key), adjust, reading);
}

static void write_series(es_json *json, es_json_part *into, es_adjust adjust, const char *name,
                         const float *values, size_t count)
{
    char key[48];
    es_text text = es_text_over(key, sizeof key);
    es_text_add(&text, "%s%s", name, es_adjust_suffix(adjust));
    es_json_part *list = es_json_array(json, into, key);
    for (size_t i = 0; i < count; i++)
        es_json_number(json, list, NULL, (double)values[i]);
}

static void write_trace(es_json *json, const es_trim_session *session)
{
    es_json_part *to = es_json_object(json, es_json_root(json), "trace");
    es_json_number(json, to, "from_s", session->trace_from_s);
    es_json_number(json, to, "step_s", 1.0 / ES_TRACE_HZ);
    write_series(json, to, session->adjust, "", session->trace_percent, session->trace_count);
}

static void write_course(es_json *json, const es_trim_session *session)
{
    es_json_part *to = es_json_object(json, es_json_root(json), "course");
    es_json_number(json, to, "step_s", session->course_step_s);
    write_series(json, to, session->adjust, "low_", session->course_low_percent,
                 session->course_count);
    write_series(json, to, session->adjust, "high_", session->course_high_percent,
                 session->course_count);
}

es_status es_session_to_json(const es_trim_session *session, int indented, char **out)
{
    *out = NULL;
    es_json *json;
    es_status status = es_json_create(&json);
    if (status != ES_OK)
        return status;
    es_json_part *root = es_json_root(json);
    es_adjust adjust = session->adjust;
    int speed = adjust == ES_ADJUST_SPEED;
    es_json_text(json, root, "schema", es_session_schema(adjust));
    if (!speed)
        es_json_text(json, root, "adjust", es_adjust_facts_of(adjust)->name);
    es_json_number(json, root, "duration_s", session->duration_s);
    if (speed) {
        es_json_number(json, root, "nominal_hz", session->nominal_hz);
        es_json_number(json, root, "tape_error_percent", session->tape_error_percent);
    }
    es_adjust_number(json, root, adjust, "target", session->target_percent);
    es_adjust_number(json, root, adjust, "tolerance", session->tolerance_percent);
    es_json_count(json, root, "overruns", (int64_t)session->overruns);
    write_reading(json, session->adjust, "as_found", &session->as_found);
    write_reading(json, session->adjust, "as_left", &session->as_left);
    es_json_truth(json, root, "final", session->final);
    es_json_count(json, root, "nudge_count", (int64_t)session->nudge_count);
    es_trim_nudges_to_json(json, root, adjust, session->nudges, session->nudge_count);
    write_trace(json, session);
    write_course(json, session);
    status = es_json_print(json, indented, out);
    es_json_destroy(json);
    return status;
}
