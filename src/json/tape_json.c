#include "json/tape_json.h"

#include "evenspool/base/cue_sheet.h"
#include "evenspool/base/text.h"
#include "json/check_json.h"

typedef struct page {
    es_json *json;
    es_json_part *root;
    const es_tape_result *result;
} page;

static void count_or_null(page *p, es_json_part *to, const char *key, int value)
{
    if (value > 0)
        es_json_count(p->json, to, key, value);
    else
        es_json_null(p->json, to, key);
}

const char *es_tape_verdict_name(es_verdict verdict)
{
    static const char *const names[] = {[ES_VERDICT_LOOK_FIRST] = "look-first",
                                        [ES_VERDICT_ADJUST] = "adjust",
                                        [ES_VERDICT_LEAVE] = "leave"};
    return names[verdict];
}

/* --- what was played -------------------------------------------------------------------- */

static void write_capture(page *p)
{
    const es_capture_facts *c = &p->result->capture;
    es_json_part *to = es_json_object(p->json, p->root, "capture");
    count_or_null(p, to, "samplerate_hz", c->samplerate_hz);
    count_or_null(p, to, "channels", c->channels);
    es_json_number(p->json, to, "duration_s", c->duration_s);
    count_or_null(p, to, "bits", c->bits);
    es_json_number(p->json, to, "clipped_percent", c->clipped_percent);
}

static void write_tape(page *p)
{
    const es_tape_result *r = p->result;
    const char side[2] = {r->side > 0 ? es_side_letter((size_t)r->side - 1) : '\0', '\0'};
    es_json_text(p->json, p->root, "programme", es_text_or_null(r->programme));
    count_or_null(p, p->root, "programme_id", (int)r->programme_id);
    es_json_text(p->json, p->root, "side", es_text_or_null(side));
    es_json_text(p->json, p->root, "class", es_text_or_null(r->transport));
    es_json_text(p->json, p->root, "equalisation", es_text_or_null(r->equalisation));
    es_json_number(p->json, p->root, "played_speed", r->played_speed);
    es_json_part *list = es_json_array(p->json, p->root, "sections");
    for (size_t i = 0; i < r->section_count; i++) {
        const es_tape_section *s = &r->sections[i];
        es_json_part *to = es_json_object(p->json, list, NULL);
        es_json_text(p->json, to, "name", s->name);
        es_json_number(p->json, to, "start_s", s->start_s);
        es_json_number(p->json, to, "end_s", s->end_s);
        es_json_truth(p->json, to, "found", s->found);
        es_json_text(p->json, to, "kind", es_section_kind_name(s->kind));
        es_json_truth(p->json, to, "marker", s->marker);
        es_json_count(p->json, to, "steps", (int64_t)s->step_count);
        es_json_count(p->json, to, "steps_heard", (int64_t)s->steps_heard);
        if (s->kind == ES_SECTION_SPEED)
            es_json_number(p->json, to, "error_percent", s->error_percent);
    }
}

static void write_speed(page *p)
{
    static const char *const groups[] = {"tone", "speed", "wow_flutter", "components", "gate"};
    if (p->result->speed_known) {
        es_check_part_to_json(p->json, &p->result->check);
        return;
    }
    for (size_t i = 0; i < sizeof groups / sizeof *groups; i++)
        es_json_null(p->json, p->root, groups[i]);
}

/* --- heads --------------------------------------------------------------------------------- */

static void write_azimuth(page *p)
{
    const es_tape_azimuth *a = &p->result->azimuth;
    if (!a->known) {
        es_json_null(p->json, p->root, "azimuth");
        return;
    }
    es_json_part *to = es_json_object(p->json, p->root, "azimuth");
    es_json_number(p->json, to, "delay_us", a->delay_us);
    es_json_number(p->json, to, "u95_us", a->u95_us);
    es_json_number(p->json, to, "angle_arcmin", a->angle_arcmin);
    es_json_number(p->json, to, "phase_10k_deg", a->phase_10k_deg);
    es_json_truth(p->json, to, "sure", a->sure);
    es_json_number(p->json, to, "u95_arcmin", a->u95_arcmin);
    es_json_number(p->json, to, "loss_10k_db", a->loss_10k_db);
    es_json_number(p->json, to, "sum_loss_10k_db", a->sum_loss_10k_db);
}

static void write_points(page *p, es_json_part *channel, const char *key, const es_tape_point *at,
                         size_t count)
{
    es_json_part *list = es_json_array(p->json, channel, key);
    for (size_t i = 0; i < count; i++) {
        es_json_part *to = es_json_object(p->json, list, NULL);
        es_json_number(p->json, to, "hz", at[i].hz);
        es_json_number(p->json, to, "db", at[i].db);
        es_json_number(p->json, to, "u95_db", at[i].u95_db);
        es_json_truth(p->json, to, "limit", at[i].limit);
    }
}

static void write_noise(page *p, es_json_part *channel, const es_tape_channel *c)
{
    es_json_part *to = es_json_object(p->json, channel, "noise_db");
    es_json_number(p->json, to, "unweighted", c->noise.unweighted);
    es_json_number(p->json, to, "a", c->noise.a);
    es_json_number(p->json, to, "itu468", c->noise.itu468);
    es_json_number(p->json, to, "itu468_peak", c->noise.itu468_peak);
    es_json_number(p->json, to, "u95", c->noise.u95_db);
    es_json_part *list = es_json_array(p->json, channel, "hum");
    for (size_t i = 0; i < c->hum_count; i++) {
        to = es_json_object(p->json, list, NULL);
        es_json_number(p->json, to, "hz", c->hum[i].hz);
        es_json_number(p->json, to, "db", c->hum[i].db);
        es_json_number(p->json, to, "mains_hz", c->hum[i].mains_hz);
        es_json_count(p->json, to, "multiple", c->hum[i].multiple);
    }
}

static void write_harmonics(page *p, es_json_part *channel, const es_tape_channel *c)
{
    es_json_part *list = es_json_array(p->json, channel, "third_harmonic");
    for (size_t i = 0; i < c->third_harmonic_count; i++) {
        const es_tape_harmonic *h = &c->third_harmonic[i];
        es_json_part *to = es_json_object(p->json, list, NULL);
        es_json_number(p->json, to, "level_db", h->level_db);
        es_json_number(p->json, to, "percent", h->percent);
        es_json_number(p->json, to, "heard_db", h->heard_db);
        es_json_number(p->json, to, "floor_percent", h->floor_percent);
    }
    es_json_number(p->json, channel, "level_3_percent_db", c->level_3_percent_db);
}

static void write_dropouts(page *p, es_json_part *channel, const es_tape_dropouts *d)
{
    es_json_part *to = es_json_object(p->json, channel, "dropouts");
    es_json_number(p->json, to, "seconds", d->seconds);
    es_json_number(p->json, to, "count", d->count);
    es_json_number(p->json, to, "deepest_db", d->deepest_db);
    es_json_number(p->json, to, "longest_ms", d->longest_ms);
}

static void write_channel(page *p, es_json_part *list, size_t at)
{
    const char *side = at == 0 ? "left" : "right";
    const es_tape_channel *c = &p->result->channels[at];
    es_json_part *to = es_json_object(p->json, list, NULL);
    es_json_text(p->json, to, "name", p->result->channel_count == 1 ? "mono" : side);
    es_json_truth(p->json, to, "heard", c->heard);
    es_json_number(p->json, to, "level_db", c->level_db);
    es_json_number(p->json, to, "level_u95_db", c->level_u95_db);
    es_json_number(p->json, to, "level_error_db", c->level_error_db);
    write_points(p, to, "response", c->response, c->response_count);
    write_noise(p, to, c);
    write_harmonics(p, to, c);
    write_points(p, to, "separation", c->separation, c->separation_count);
    es_json_number(p->json, to, "clipped_percent", c->clipped_percent);
    write_dropouts(p, to, &c->dropouts);
}

static void write_pair(page *p, es_json_part *into, const char *key, const double pair[])
{
    es_json_part *list = es_json_array(p->json, into, key);
    for (size_t c = 0; c < p->result->channel_count; c++)
        es_json_number(p->json, list, NULL, pair[c]);
}

static void write_both(page *p)
{
    static const char *const polarity[] = {[ES_POLARITY_UNKNOWN] = NULL,
                                           [ES_POLARITY_SAME] = "same",
                                           [ES_POLARITY_OPPOSED] = "opposed"};
    const es_tape_result *r = p->result;
    es_json_number(p->json, p->root, "balance_db", r->balance_db);
    es_json_number(p->json, p->root, "balance_u95_db", r->balance_u95_db);
    es_json_text(p->json, p->root, "polarity", polarity[r->polarity]);
    es_json_truth(p->json, p->root, "swapped", r->swapped);
    write_pair(p, p->root, "treble_db", r->treble_db);
    es_json_part *again = es_json_object(p->json, p->root, "again");
    write_pair(p, again, "level_db", r->again.level_db);
    write_pair(p, again, "treble_db", r->again.treble_db);
    es_json_number(p->json, again, "delay_us", r->again.delay_us);
}

/* --- words ------------------------------------------------------------------------------------ */

static void write_words(page *p)
{
    const es_tape_result *r = p->result;
    es_json_truth(p->json, p->root, "recorded_here", r->recorded_here);
    es_json_text(p->json, p->root, "bias", es_text_or_null(r->bias));
    es_json_part *share = es_json_object(p->json, p->root, "tape_share");
    es_json_truth(p->json, share, "known", r->tape_share_known);
    es_json_text(p->json, share, "text", es_text_or_null(r->tape_share));
    es_json_text(p->json, p->root, "equalisation_hint", es_text_or_null(r->equalisation_hint));
    es_json_text(p->json, p->root, "limits", es_text_or_null(r->limits));
    es_json_part *list = es_json_array(p->json, p->root, "verdicts");
    for (size_t i = 0; i < r->verdict_count; i++) {
        const es_tape_verdict *v = &r->verdicts[i];
        es_json_part *to = es_json_object(p->json, list, NULL);
        es_json_text(p->json, to, "what", v->what);
        es_json_text(p->json, to, "verdict", es_tape_verdict_name(v->verdict));
        es_json_text(p->json, to, "text", v->text);
        es_json_text(p->json, to, "source", es_text_or_null(v->source));
    }
    es_notes_to_json(p->json, p->root, "warnings", &r->warnings);
}

es_status es_tape_to_json(const es_tape_result *result, const char *file, int indented, char **out)
{
    *out = NULL;
    page p = {.result = result};
    es_status status = es_json_begin(ES_TAPE_SCHEMA, &p.json);
    if (status != ES_OK)
        return status;
    p.root = es_json_root(p.json);
    es_json_text(p.json, p.root, "file", file);
    write_capture(&p);
    write_tape(&p);
    write_speed(&p);
    write_azimuth(&p);
    es_json_part *channels = es_json_array(p.json, p.root, "channels");
    for (size_t c = 0; c < result->channel_count; c++)
        write_channel(&p, channels, c);
    write_both(&p);
    write_words(&p);
    return es_json_end(p.json, indented, out);
}
