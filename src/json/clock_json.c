#include "json/clock_json.h"

#include "json/check_json.h"
#include "json/document.h"

static void write_reference(es_json *json, es_json_part *root, const es_clock_reference *r)
{
    es_json_part *to = es_json_object(json, root, "reference");
    if (r->discipline == ES_CLOCK_UNKNOWN)
        es_json_null(json, to, "disciplined");
    else
        es_json_truth(json, to, "disciplined", r->discipline == ES_CLOCK_DISCIPLINED);
    es_json_number(json, to, "limit_ppm", r->limit_ppm);
    es_json_number(json, to, "correction_ppm", r->correction_ppm);
    es_json_number(json, to, "in_force_ppm", r->in_force_ppm);
    es_json_number(json, to, "estimated_error_s", r->estimated_error_s);
}

static void write_all(es_json *json, const es_clock_result *r)
{
    es_json_part *root = es_json_root(json);
    es_json_text(json, root, "schema", "evenspool.clock/1");
    es_json_text(json, root, "version", ES_VERSION);
    es_json_text(json, root, "input", r->input);
    es_json_text(json, root, "system", r->system);
    es_json_truth(json, root, "direct", r->direct);
    es_json_number(json, root, "rate_hz", r->rate_hz);
    es_json_number(json, root, "error_ppm", r->figures.error_ppm);
    es_json_number(json, root, "u95_ppm", r->u95_ppm);
    es_json_number(json, root, "line_u95_ppm", r->line_u95_ppm);
    es_json_number(json, root, "clock_ppm", r->clock_ppm);
    es_json_number(json, root, "listened_s", r->listened_s);
    es_json_number(json, root, "used_s", r->figures.used_s);
    es_json_number(json, root, "lost_s", r->lost_s);
    es_json_count(json, root, "interruptions", r->figures.interruptions);
    es_json_count(json, root, "blocks", r->figures.blocks);
    es_json_number(json, root, "jitter_ms", 1e3 * r->figures.jitter_s);
    write_reference(json, root, &r->reference);
    es_notes_to_json(json, root, "notes", &r->notes);
}

es_status es_clock_to_json(const es_clock_result *result, int indented, char **out)
{
    es_json *json;
    *out = NULL;
    es_status status = es_json_create(&json);
    if (status != ES_OK)
        return status;
    write_all(json, result);
    status = es_json_print(json, indented, out);
    es_json_destroy(json);
    return status;
}
