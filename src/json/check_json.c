#include "json/check_json.h"

#include "evenspool/base/text.h"
#include "json/check_figures.h"
#include "json/document.h"

#include <assert.h>
#include <math.h>
#include <string.h>

typedef struct page {
    es_json *json;
    const es_check_result *result;
    const char *group; /* where figures go now */
    es_json_part *part;
} page;

static void open_group(page *p, const char *group)
{
    p->group = group;
    p->part = es_json_object(p->json, es_json_root(p->json), group);
}

static void figure(page *p, const char *key)
{
    const es_check_figure *found = es_check_figure_named(key);
    assert(found && strcmp(found->group, p->group) == 0);
    es_json_number(p->json, p->part, key, es_check_figure_of(found, p->result));
}

static void count_or_null(page *p, const char *key, int value)
{
    if (value > 0)
        es_json_count(p->json, p->part, key, value);
    else
        es_json_null(p->json, p->part, key);
}

void es_notes_to_json(es_json *json, es_json_part *into, const char *key, const es_notes *notes)
{
    es_json_part *list = es_json_array(json, into, key);
    for (size_t i = 0; i < notes->count; i++) {
        es_json_part *note = es_json_object(json, list, NULL);
        es_json_text(json, note, "code", notes->at[i].code);
        es_json_text(json, note, "text", notes->at[i].text);
    }
}

static void write_capture(page *p)
{
    const es_capture_facts *capture = &p->result->capture;
    open_group(p, "capture");
    count_or_null(p, "samplerate_hz", capture->samplerate_hz);
    count_or_null(p, "channels", capture->channels);
    figure(p, "duration_s");
    count_or_null(p, "bits", capture->bits);
    figure(p, "clipped_percent");
    count_or_null(p, "channel_used", capture->channel_used);
    es_json_text(p->json, p->part, "channel_why", es_text_or_null(capture->channel_why));
}

static const char *source_name(const es_tone_facts *tone)
{
    static const char *const names[] = {
        [ES_NOMINAL_NEAREST] = "nearest", [ES_NOMINAL_GIVEN] = "given", [ES_NOMINAL_TAPE] = "tape"};
    return isfinite(tone->nominal_hz) ? names[tone->nominal_source] : NULL;
}

static void write_tone(page *p)
{
    open_group(p, "tone");
    figure(p, "nominal_hz");
    es_json_text(p->json, p->part, "nominal_source", source_name(&p->result->tone));
    figure(p, "measured_hz");
    figure(p, "snr_db");
    figure(p, "present_percent");
    es_json_count(p->json, p->part, "dropouts", p->result->tone.dropouts);
}

static void write_speed(page *p)
{
    const es_speed_facts *speed = &p->result->speed;
    open_group(p, "speed");
    figure(p, "error_percent");
    figure(p, "u95_percent");
    figure(p, "cents");
    figure(p, "drift_percent_per_min");
    figure(p, "start_percent");
    figure(p, "end_percent");
    figure(p, "tape_error_percent");
    figure(p, "clock_ppm");
    es_json_part *budget = es_json_array(p->json, p->part, "budget");
    for (size_t i = 0; i < speed->budget_count; i++) {
        es_json_part *line = es_json_object(p->json, budget, NULL);
        es_json_text(p->json, line, "source", speed->budget[i].source);
        es_json_number(p->json, line, "u_percent", speed->budget[i].u_percent);
    }
    figure(p, "heard_percent");
}

static void write_flutter(page *p)
{
    const es_flutter_facts *flutter = &p->result->flutter;
    open_group(p, "wow_flutter");
    figure(p, "weighted_quasi_peak_percent");
    figure(p, "weighted_two_sigma_percent");
    figure(p, "weighted_rms_percent");
    figure(p, "unweighted_peak_percent");
    figure(p, "unweighted_rms_percent");
    figure(p, "wow_rms_percent");
    figure(p, "flutter_rms_percent");
    es_json_part *band = es_json_array(p->json, p->part, "band_hz");
    es_json_number(p->json, band, NULL, flutter->band_hz[0]);
    es_json_number(p->json, band, NULL, flutter->band_hz[1]);
    es_json_truth(p->json, p->part, "reliable", flutter->reliable);
}

static void write_components(page *p)
{
    es_json *json = p->json;
    es_json_part *list = es_json_array(json, es_json_root(json), "components");
    for (size_t i = 0; i < p->result->component_count; i++) {
        const es_component *from = &p->result->components[i];
        es_json_part *to = es_json_object(json, list, NULL);
        es_json_number(json, to, "rate_hz", from->rate_hz);
        es_json_number(json, to, "peak_percent", from->peak_percent);
        es_json_number(json, to, "rate_slope_hz_per_min", from->rate_slope_hz_per_min);
        es_json_text(json, to, "suspect", es_text_or_null(from->suspect));
        es_json_number(json, to, "share_percent", from->share_percent);
        es_json_count(json, to, "harmonics", from->harmonics);
        es_json_number(json, to, "significance_db", from->significance_db);
    }
}

static void write_stereo(page *p)
{
    if (!p->result->stereo.known) {
        es_json_null(p->json, es_json_root(p->json), "stereo");
        return;
    }
    open_group(p, "stereo");
    figure(p, "delay_us");
    figure(p, "delay_period_us");
    figure(p, "level_difference_db");
    es_json_text(p->json, p->part, "polarity", p->result->stereo.opposed ? "opposed" : "same");
}

static void write_gate(page *p)
{
    static const char *const names[] = {[ES_VERDICT_LOOK_FIRST] = "look-first",
                                        [ES_VERDICT_ADJUST] = "adjust",
                                        [ES_VERDICT_LEAVE] = "leave"};
    open_group(p, "gate");
    es_json_text(p->json, p->part, "verdict", names[p->result->gate.verdict]);
    es_notes_to_json(p->json, p->part, "reasons", &p->result->gate.reasons);
}

static es_status print_and_destroy(es_json *json, int indented, char **out)
{
    es_status status = es_json_print(json, indented, out);
    es_json_destroy(json);
    return status;
}

static void write_played(page *p)
{
    write_tone(p);
    write_speed(p);
    write_flutter(p);
    write_components(p);
}

void es_check_part_to_json(es_json *json, const es_check_result *result)
{
    page p = {.json = json, .result = result};
    write_played(&p);
    write_gate(&p);
}

es_status es_check_to_json(const es_check_result *result, const char *file, int indented,
                           char **out)
{
    *out = NULL;
    page p = {.result = result};
    es_status status = es_json_create(&p.json);
    if (status != ES_OK)
        return status;
    es_json_text(p.json, es_json_root(p.json), "schema", "evenspool.check/1");
    es_json_text(p.json, es_json_root(p.json), "version", ES_VERSION);
    es_json_text(p.json, es_json_root(p.json), "file", file);
    write_capture(&p);
    write_played(&p);
    write_stereo(&p);
    write_gate(&p);
    es_notes_to_json(p.json, es_json_root(p.json), "warnings", &result->warnings);
    return print_and_destroy(p.json, indented, out);
}

es_status es_error_to_json(const es_error *error, const char *file, int indented, char **out)
{
    *out = NULL;
    es_json *json;
    es_status status = es_json_create(&json);
    if (status != ES_OK)
        return status;
    es_json_text(json, es_json_root(json), "schema", "evenspool.error/1");
    es_json_text(json, es_json_root(json), "file", file);
    es_json_text(json, es_json_root(json), "code", error->code);
    es_json_text(json, es_json_root(json), "text", error->text);
    return print_and_destroy(json, indented, out);
}
