#include "command/truth.h"

#include "evenspool/base/cue_sheet.h"
#include "evenspool/base/units.h"
#include "json/document.h"

#include <math.h>

typedef struct page {
    es_json *json;
    es_json_part *part; /* where numbers go now */
    const es_rehearsal_truth *truth;
} page;

static void open_group(page *p, const char *group)
{
    p->part = es_json_object(p->json, es_json_root(p->json), group);
}

static void number(page *p, const char *key, double value)
{
    es_json_number(p->json, p->part, key, value);
}

static void write_capture(page *p, double rate_hz)
{
    const es_rehearsal_truth *t = p->truth;
    open_group(p, "capture");
    es_json_count(p->json, p->part, "samplerate_hz", (int64_t)rate_hz);
    es_json_count(p->json, p->part, "channels", 2);
    number(p, "duration_s", t->duration_s);
    number(p, "start_s", t->start_s);
    number(p, "steady_s", t->steady_s);
    number(p, "stopping_s", t->stopping_s);
    number(p, "still_s", t->still_s);
    number(p, "left_clipped_percent", 100.0 * t->clipped[0]);
    number(p, "right_clipped_percent", 100.0 * t->clipped[1]);
}

static void write_tone(page *p)
{
    const es_rehearsal_truth *t = p->truth;
    open_group(p, "tone");
    number(p, "nominal_hz", t->recording ? (double)NAN : t->tone_hz);
    number(p, "measured_hz", t->recording ? (double)NAN : t->heard_hz);
    number(p, "left_snr_db", t->snr_db[0]);
    number(p, "right_snr_db", t->snr_db[1]);
    number(p, "left_level_fs", t->level_fs[0]);
    number(p, "right_level_fs", t->level_fs[1]);
    es_json_count(p->json, p->part, "dropouts", t->dropouts);
}

static void write_speed(page *p)
{
    const es_rehearsal_truth *t = p->truth;
    open_group(p, "speed");
    number(p, "error_percent", 100.0 * t->deck_error);
    number(p, "cents", es_cents(t->deck_error));
    number(p, "drift_percent_per_min", 100.0 * t->drift_per_min);
    number(p, "tape_error_percent", 100.0 * t->tape_error);
    number(p, "clock_ppm", 1e6 * t->clock_error);
    number(p, "heard_percent", 100.0 * t->heard_error);
    number(p, "settled_percent", 100.0 * t->settled_error);
}

static void write_flutter(page *p)
{
    const es_rehearsal_truth *t = p->truth;
    open_group(p, "wow_flutter");
    number(p, "unweighted_rms_percent", 100.0 * t->flutter_rms);
    number(p, "random_rms_percent", 100.0 * t->random_rms);
    number(p, "scrape_rms_percent", 100.0 * t->scrape_rms);
    es_json_part *list = es_json_array(p->json, es_json_root(p->json), "components");
    for (size_t i = 0; i < t->component_count; i++) {
        const es_rehearsal_component *c = &t->components[i];
        p->part = es_json_object(p->json, list, NULL);
        number(p, "rate_hz", c->rate_hz);
        number(p, "peak_percent", 100.0 * c->peak);
        number(p, "rate_slope_hz_per_min", c->rate_slope_hz_per_min);
        es_json_text(p->json, p->part, "part",
                     c->part == ES_PART_NONE ? NULL : es_part_name(c->part));
        es_json_count(p->json, p->part, "harmonic", c->harmonic);
    }
}

static void write_stereo(page *p)
{
    const es_rehearsal_truth *t = p->truth;
    open_group(p, "stereo");
    number(p, "delay_us", t->delay_us);
    number(p, "delay_period_us", t->delay_period_us);
    number(p, "level_difference_db", t->level_difference_db);
    es_json_text(p->json, p->part, "polarity", t->opposed ? "opposed" : "same");
}

/* Where a sine at the tape's reference level lies, its peak, and its third harmonic. */
static void write_tape(page *p, const es_rehearsed *rehearsed)
{
    const char side[] = {es_side_letter(rehearsed->side), '\0'};
    if (!rehearsed->programme[0])
        return;
    open_group(p, "tape");
    es_json_text(p->json, p->part, "programme", rehearsed->programme);
    es_json_text(p->json, p->part, "side", side);
    number(p, "left_reference_dbfs", es_db(p->truth->level_fs[0]));
    number(p, "right_reference_dbfs", es_db(p->truth->level_fs[1]));
    number(p, "third_harmonic_percent", 100.0 * rehearsed->scenario.third);
}

es_status es_truth_to_json(const es_rehearsed *rehearsed, const char *file, double rate_hz,
                           char **out)
{
    *out = NULL;
    page p = {.truth = &rehearsed->truth};
    es_status status = es_json_create(&p.json);
    if (status != ES_OK)
        return status;
    es_json_part *root = es_json_root(p.json);
    es_json_text(p.json, root, "schema", "evenspool.truth/1");
    es_json_text(p.json, root, "version", ES_VERSION);
    es_json_text(p.json, root, "file", file);
    open_group(&p, "scenario");
    es_json_text(p.json, p.part, "name", rehearsed->scenario.name);
    es_json_text(p.json, p.part, "about", rehearsed->scenario.about);
    es_json_count(p.json, p.part, "seed", (int64_t)rehearsed->scenario.seed);
    write_capture(&p, rate_hz);
    write_tone(&p);
    write_tape(&p, rehearsed);
    write_speed(&p);
    write_flutter(&p);
    write_stereo(&p);
    status = es_json_print(p.json, 1, out);
    es_json_destroy(p.json);
    return status;
}
