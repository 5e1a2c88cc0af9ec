#include "serve/jobs_json.h"

#include "evenspool/base/record_figures.h"
#include "json/ledger_json.h"
#include "json/trim_json.h"

#include <math.h>

/* Without a reading all of it is unknown: null rather than an object of nulls. */
static void write_figure(es_json *json, es_json_part *into, const char *key, es_adjust adjust,
                         double error, double u95)
{
    if (isnan(error)) {
        es_json_null(json, into, key);
        return;
    }
    es_json_part *to = es_json_object(json, into, key);
    es_adjust_number(json, to, adjust, "error", error);
    es_adjust_number(json, to, adjust, "u95", u95);
}

es_status es_jobs_to_json(const es_told_job *jobs, size_t count, char **out)
{
    es_json *json;
    *out = NULL;
    if (es_json_begin("evenspool.jobs/1", &json) != ES_OK)
        return ES_ERR_NOMEM;
    es_json_part *list = es_json_array(json, es_json_root(json), "jobs");
    for (size_t i = 0; i < count; i++) {
        const es_told_job *j = &jobs[i];
        es_json_part *to = es_json_object(json, list, NULL);
        es_json_text(json, to, "deck_name", j->deck);
        es_record_to_json(json, to, ES_RECORD_JOB, &j->job);
        es_json_count(json, to, "nudge_count", (int64_t)j->nudge_count);
        write_figure(json, to, "found", es_job_adjust(&j->job), j->found, j->found_u95);
        write_figure(json, to, "left", es_job_adjust(&j->job), j->left, j->left_u95);
    }
    return es_json_end(json, 0, out);
}
